// Package enum gives the values of a small integer type their names. A type
// keeps a list of names, by value, and implements fmt.Stringer,
// encoding.TextMarshaler and encoding.TextUnmarshaler with one line each:
//
//	var turnNames = []string{Bulb: "bulb", Fishtail: "fishtail"}
//
//	func (t Turn) String() string                { return enum.Name(turnNames, t) }
//	func (t Turn) MarshalText() ([]byte, error)  { return enum.Text(turnNames, t) }
//	func (t *Turn) UnmarshalText(b []byte) error { return enum.Set(t, turnNames, b) }
package enum

import (
	"fmt"
	"slices"
	"strings"
)

// Name returns the name of v, or "unknown" if it has none.
func Name[T ~uint8](names []string, v T) string {
	if int(v) < len(names) {
		return names[v]
	}
	return "unknown"
}

// Text returns the name of v, or an error if it has none.
func Text[T ~uint8](names []string, v T) ([]byte, error) {
	if int(v) < len(names) {
		return []byte(names[v]), nil
	}
	return nil, fmt.Errorf("value %d; expected at most %d", v, len(names)-1)
}

// Set sets v to the value whose name is text. If there is none it returns an
// error that lists the names, and leaves v as it is.
func Set[T ~uint8](v *T, names []string, text []byte) error {
	i := slices.Index(names, string(text))
	if i < 0 {
		n := len(names) - 1
		return fmt.Errorf("%q; expected %s or %s", text, strings.Join(names[:n], ", "), names[n])
	}
	*v = T(i)
	return nil
}
