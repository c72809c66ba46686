package report

import (
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"time"
)

// Role is the office in which somebody signs. Records hold offices, never persons.
type Role int

// The roles.
const (
	Acoustics Role = iota
	SignalProcessing
	Electronics
	Mechanics
	Quality
	Product
)

var roles = [...]string{"acoustics", "signal processing", "electronics", "mechanics", "quality", "product"}

// String returns the role in the words of the record.
func (r Role) String() string {
	if r < 0 || int(r) >= len(roles) {
		return fmt.Sprintf("Role(%d)", int(r))
	}
	return roles[r]
}

// Signature is a line of a sign-off: which role agreed, and when.
type Signature struct {
	Role Role
	Date string // YYYY-MM-DD: given, never the clock's
}

type signatureJSON struct {
	Role string `json:"role"`
	Date string `json:"date"`
}

// Validate reports a role that there is not, and a date that is none.
func (s Signature) Validate() error {
	if s.Role < 0 || int(s.Role) >= len(roles) {
		return fmt.Errorf("report: signature of %v, want one of %q", s.Role, roles)
	}
	if _, err := time.Parse(time.DateOnly, s.Date); err != nil {
		return fmt.Errorf("report: signature of %v has the date %q, want YYYY-MM-DD", s.Role, s.Date)
	}
	return nil
}

// String returns the line: "acoustics, 2031-02-03".
func (s Signature) String() string { return s.Role.String() + ", " + s.Date }

// MarshalJSON implements [json.Marshaler].
func (s Signature) MarshalJSON() ([]byte, error) {
	if err := s.Validate(); err != nil {
		return nil, err
	}
	return json.Marshal(signatureJSON{s.Role.String(), s.Date})
}

// UnmarshalJSON implements [json.Unmarshaler].
func (s *Signature) UnmarshalJSON(b []byte) error {
	var v signatureJSON
	if err := strict(b, &v); err != nil {
		return fmt.Errorf("report: signature: %w", err)
	}
	got := Signature{Role: -1, Date: v.Date}
	for i, name := range roles {
		if v.Role == name {
			got.Role = Role(i)
		}
	}
	if got.Role < 0 {
		return fmt.Errorf("report: signature of %q, want one of %q", v.Role, roles)
	}
	if err := got.Validate(); err != nil {
		return err
	}
	*s = got
	return nil
}

// CheckSignatures reports the first faulty signature, one that is there twice, and
// one that is older than what it signs, by its date.
func CheckSignatures(signed []Signature, of string) error {
	seen := map[Role]bool{}
	for _, s := range signed {
		if err := s.Validate(); err != nil {
			return err
		}
		if seen[s.Role] {
			return fmt.Errorf("report: %v signs twice, want once", s.Role)
		}
		seen[s.Role] = true
		if s.Date < of {
			return fmt.Errorf("report: %v signs on %s what is of %s, want that day or later", s.Role, s.Date, of)
		}
	}
	return nil
}

// isSHA256 reports whether s is a SHA-256 sum as the records write it.
func isSHA256(s string) bool {
	b, err := hex.DecodeString(s)
	return err == nil && len(b) == 32 && strings.ToLower(s) == s
}
