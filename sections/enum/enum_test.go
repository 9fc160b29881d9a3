package enum_test

import (
	"encoding/json"
	"fmt"
	"testing"

	"liftbench/sections/enum"
)

// gear is a type as the package comment has it.
type gear uint8

const (
	neutral gear = iota
	forward
	reverse
)

var gearNames = []string{neutral: "neutral", forward: "forward", reverse: "reverse"}

func (g gear) String() string                { return enum.Name(gearNames, g) }
func (g gear) MarshalText() ([]byte, error)  { return enum.Text(gearNames, g) }
func (g *gear) UnmarshalText(b []byte) error { return enum.Set(g, gearNames, b) }

func TestNames(t *testing.T) {
	for v, name := range gearNames {
		g := gear(v)
		text, err := g.MarshalText()
		if g.String() != name || string(text) != name || err != nil {
			t.Errorf("%d is %v, %q, %v; want %q", v, g, text, err, name)
		}
		var back gear
		if err := back.UnmarshalText(text); back != g || err != nil {
			t.Errorf("%q is %d, %v; want %d", text, back, err, g)
		}
	}
	if _, err := gear(3).MarshalText(); gear(3).String() != "unknown" || err == nil || err.Error() != "value 3; expected at most 2" {
		t.Errorf("3 is %v, %v", gear(3), err)
	}
	for _, text := range []string{"", "Forward", "forward ", "unknown"} {
		g := reverse
		want := fmt.Sprintf("%q; expected neutral, forward or reverse", text)
		if err := g.UnmarshalText([]byte(text)); g != reverse || err == nil || err.Error() != want {
			t.Errorf("%q is %v, %v; want %s", text, g, err, want)
		}
	}
}

func Example() {
	text, _ := json.Marshal(map[string]gear{"gear": reverse})
	var back struct{ Gear gear }
	_ = json.Unmarshal(text, &back)
	fmt.Println(string(text), back.Gear)
	// Output: {"gear":"reverse"} reverse
}
