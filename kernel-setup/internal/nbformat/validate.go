package nbformat

import (
	"errors"
	"fmt"
	"strings"
)

// Validate checks a notebook against format 4.5: ids there, well formed and
// unique, fields of the right kind, no field where the format knows none
// (unless the notebook is of a later minor version). All findings are joined.
func (n *Notebook) Validate() error {
	var found []error
	bad := func(format string, args ...any) {
		found = append(found, fmt.Errorf(format, args...))
	}
	strict := n.Minor == 5
	if n.Minor < 5 {
		bad("notebook format 4.%d, want 4.5 or a later 4.x", n.Minor)
	}
	if strict {
		for _, k := range sortedKeys(n.extra) {
			bad("unknown field %q at the top", k)
		}
	}
	if v, ok := n.Metadata["kernelspec"]; ok {
		spec, isObject := v.(map[string]any)
		if !isObject {
			bad("metadata.kernelspec is %s, want an object", kind(v))
		}
		for _, k := range []string{"name", "display_name"} {
			if _, ok := spec[k].(string); isObject && !ok {
				bad("metadata.kernelspec.%s is %s, want a string", k, kind(spec[k]))
			}
		}
	}
	if v, ok := n.Metadata["language_info"]; ok {
		info, isObject := v.(map[string]any)
		if !isObject {
			bad("metadata.language_info is %s, want an object", kind(v))
		} else if _, ok := info["name"].(string); !ok {
			bad("metadata.language_info.name is %s, want a string", kind(info["name"]))
		}
	}
	seen := map[string]int{}
	for i, c := range n.Cells {
		if c == nil {
			bad("cell %d is nil", i+1)
			continue
		}
		where := n.where(i)
		switch {
		case !wellFormedID(c.ID):
			bad("%s: want an id of 1 to 64 letters, digits, - or _", where)
		case seen[c.ID] > 0:
			bad("%s: cell %d has the same id", where, seen[c.ID])
		default:
			seen[c.ID] = i + 1
		}
		for _, err := range c.findings(strict) {
			bad("%s: %w", where, err)
		}
	}
	return errors.Join(found...)
}

func (c *Cell) findings(strict bool) []error {
	var found []error
	bad := func(format string, args ...any) {
		found = append(found, fmt.Errorf(format, args...))
	}
	switch c.Type {
	case Code:
		if strict && c.Attachments != nil {
			bad("attachments in a code cell")
		}
	case Markdown, Raw:
		if len(c.Outputs) > 0 || c.ExecutionCount != nil {
			bad("outputs or an execution count outside a code cell")
		}
	default:
		bad("cell_type is %q, want code, markdown or raw", c.Type)
	}
	if strict {
		for _, k := range sortedKeys(c.extra) {
			bad("unknown field %q", k)
		}
	}
	if v, ok := c.Metadata["tags"]; ok {
		found = append(found, tagFindings(v)...)
	}
	if v, ok := c.Metadata["name"]; ok {
		if s, ok := v.(string); !ok || s == "" {
			bad("metadata.name is %s, want a string that is not empty", kind(v))
		}
	}
	if c.ExecutionCount != nil && *c.ExecutionCount < 0 {
		bad("execution_count is %d, want at least 0", *c.ExecutionCount)
	}
	for _, name := range sortedKeys(c.Attachments) {
		if err := c.Attachments[name].check(); err != nil {
			bad("attachment %q: %w", name, err)
		}
	}
	for i, o := range c.Outputs {
		for _, err := range o.findings(strict) {
			bad("output %d: %w", i+1, err)
		}
	}
	return found
}

func tagFindings(v any) []error {
	list, ok := v.([]any)
	if !ok {
		return []error{fmt.Errorf("metadata.tags is %s, want a list of strings", kind(v))}
	}
	var found []error
	seen := map[string]bool{}
	for _, e := range list {
		tag, ok := e.(string)
		switch {
		case !ok:
			found = append(found, fmt.Errorf("a tag is %s, want a string", kind(e)))
		case tag == "" || strings.Contains(tag, ","):
			found = append(found, fmt.Errorf("the tag %q, want one that is not empty and has no comma", tag))
		case seen[tag]:
			found = append(found, fmt.Errorf("the tag %q twice", tag))
		}
		seen[tag] = true
	}
	return found
}

func (o Output) findings(strict bool) []error {
	var found []error
	switch o.Type {
	case Stream:
		if o.Name == "" {
			found = append(found, errors.New("a stream without a name, want stdout or stderr"))
		}
	case DisplayData, ExecuteResult:
		if err := o.Data.check(); err != nil {
			found = append(found, err)
		}
		if o.ExecutionCount != nil && *o.ExecutionCount < 0 {
			found = append(found, fmt.Errorf("execution_count is %d, want at least 0", *o.ExecutionCount))
		}
	case Error:
	default:
		found = append(found, fmt.Errorf("output_type is %q, want stream, display_data, execute_result or error", o.Type))
	}
	if strict {
		for _, k := range sortedKeys(o.extra) {
			found = append(found, fmt.Errorf("unknown field %q", k))
		}
	}
	return found
}

func (b Bundle) check() error {
	for _, mime := range sortedKeys(b) {
		if _, ok := b[mime].(string); !ok && !IsJSON(mime) {
			return fmt.Errorf("%s is %s, want a string", mime, kind(b[mime]))
		}
	}
	return nil
}

func wellFormedID(id string) bool {
	if len(id) < 1 || len(id) > 64 {
		return false
	}
	for _, r := range id {
		switch {
		case r >= 'a' && r <= 'z', r >= 'A' && r <= 'Z', r >= '0' && r <= '9', r == '-', r == '_':
		default:
			return false
		}
	}
	return true
}
