package freq

import "reflect"

// Same reports whether two transfers are known to be one and the same, without
// evaluating them: equal pointers or values, the same written-down response, or
// chains of the same stages. It may answer false for two that happen to have
// equal responses, and is how a plan knows which of its tables still hold.
func Same(a, b Transfer) bool {
	switch x := a.(type) {
	case nil:
		return b == nil
	case Response:
		y, ok := b.(Response)
		return ok && x.grid == y.grid && len(x.values) == len(y.values) && (len(x.values) == 0 || &x.values[0] == &y.values[0])
	case Series:
		y, ok := b.(Series)
		if !ok || len(x) != len(y) {
			return false
		}
		for i := range x {
			if !Same(x[i], y[i]) {
				return false
			}
		}
		return true
	}
	if k := reflect.TypeOf(a).Kind(); k == reflect.Pointer || k == reflect.Float64 {
		return a == b
	}
	return reflect.ValueOf(a).Comparable() && reflect.ValueOf(b).IsValid() && reflect.ValueOf(b).Comparable() && a == b
}
