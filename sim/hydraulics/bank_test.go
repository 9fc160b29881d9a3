// Setpoints given to a bank with round numbers, and the work changes that follow.

package hydraulics

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"liftbench/sections"
)

// quick has round numbers: tools rise at 1 m/s alone (two together at half)
// and fall at 1 m/s over 0.3 m; the effective depth is 0.02 m above the lowest
// place. Dead times: lift 100 ms, drop 50 ms.
func quick(t testing.TB, n int) *Bank {
	t.Helper()
	b, err := New(hoe(), n)
	if err != nil {
		t.Fatal(err)
	}
	b.kinds[0].perFlow, b.kinds[0].falls[0], b.pump.flowM3PerS = 1, 1, 1
	for i := range b.sections {
		s := &b.sections[i]
		s.liftCap = 1
		s.liftDeadNs, s.dropDeadNs = 100e6, 50e6
	}
	return b
}

// script runs commands "ms section +|-" (section from 1, + = drop) to 10 s.
func script(b *Bank, commands string) string {
	for line := range strings.FieldsFuncSeq(commands, func(r rune) bool { return r == ',' }) {
		var at int64
		var section int16
		var way string
		if _, err := fmt.Sscanf(line, "%d %d %s", &at, &section, &way); err != nil {
			panic(err)
		}
		b.Command(sections.Setpoint{DueNs: at * 1e6, Section: section - 1, On: way == "+"})
	}
	return printed(b.Advance(10e9, nil))
}

func printed(changes []sections.WorkChange) string {
	var out []string
	for _, c := range changes {
		way := "-"
		if c.On {
			way = "+"
		}
		out = append(out, fmt.Sprintf("%g %d %s", float64(c.TimeNs)/1e6, c.Section+1, way))
	}
	return strings.Join(out, ", ")
}

func TestCommands(t *testing.T) {
	for _, c := range []struct {
		name     string
		inWork   bool
		commands string
		want     string
	}{
		{"drop", false, "1000 1 +", "1330 1 +"},
		{"lift", true, "1000 1 -", "1120 1 -"},
		{"drop and lift", false, "1000 1 +, 3000 1 -", "1330 1 +, 3120 1 -"},
		{"repeated setpoints fall away", false, "1000 1 +, 1001 1 +, 1100 1 +", "1330 1 +"},
		{"already there", false, "1000 1 -", ""},
		{"no such section", false, "1000 3 +, 1000 0 +", ""},
		// Raised at 0.3 m, falls from 1050; at 1200 still 100 ms of dead time
		// to go, so to 0.05 m at 1300; never in work.
		{"reversed in mid-stroke before the soil", false, "1000 1 +, 1200 1 -", ""},
		// Falls 1050 to 1340 = 0.01 m; in work from 1330, out at 1350.
		{"reversed in mid-stroke in the soil", false, "1000 1 +, 1240 1 -", "1330 1 +, 1350 1 -"},
		// Rises 1100 to 1110 = 0.01 m, then down: never out of work.
		{"lift reversed before the effective depth", true, "1000 1 -, 1060 1 +", ""},
		// Rises 1100 to 1170 = 0.07 m, falls 0.05 m from there.
		{"lift reversed above it", true, "1000 1 -, 1120 1 +", "1120 1 -, 1220 1 +"},
		{"reversed within its dead time: nothing", true, "1000 1 -, 1099 1 +", ""},
		{"and a third time: counts from the third", true, "1000 1 -, 1099 1 +, 1100 1 -", "1220 1 -"},
		{"reversed when the valve turns: the valve turns twice", true, "1000 1 -, 1100 1 +", "1120 1 -, 1180 1 +"},
		{"several ahead", false, "1000 1 +, 2000 1 -, 3000 1 +, 4000 1 -, 5000 1 +, 6000 1 -",
			"1330 1 +, 2120 1 -, 3330 1 +, 4120 1 -, 5330 1 +, 6120 1 -"},
		{"due times do not decrease", true, "2000 1 -, 1500 1 +", ""},
		{"two rise at half speed", true, "1000 1 -, 1000 2 -", "1140 1 -, 1140 2 -"},
		{"two fall at full speed", false, "1000 1 +, 1000 2 +", "1330 1 +, 1330 2 +"},
		// 10 ms alone, then 20 ms together.
		{"the second slows the first", true, "1000 1 -, 1010 2 -", "1130 1 -, 1150 2 -"},
		// 1 alone to 0.29 m at 1390, together until 1 ends at 1410 with 2 at 0.01 m.
		{"the first's end frees the second", true, "1000 1 -, 1290 2 -", "1120 1 -, 1420 2 -"},
		// 1 alone to 0.1 m at 1200, together to 0.105 and 0.005 m at 1210.
		{"a falling one takes no oil", true, "1000 1 -, 1100 2 -, 1160 1 +", "1120 1 -, 1225 2 -, 1295 1 +"},
	} {
		t.Run(c.name, func(t *testing.T) {
			b := quick(t, 2)
			b.Start(0, c.inWork)
			if got := script(b, c.commands); got != c.want {
				t.Errorf("got  %s\nwant %s", got, c.want)
			}
		})
	}
}

func TestLateCommand(t *testing.T) {
	b := quick(t, 1)
	b.Advance(1020e6, nil)
	// Late by 20 ms, but the valve has 30 ms left: nothing is lost.
	b.Command(sections.Setpoint{DueNs: 1000e6, On: true})
	if got := printed(b.Advance(2000e6, nil)); got != "1330 1 +" {
		t.Error(got)
	}
	// Late beyond the dead time: the valve turns now.
	b.Command(sections.Setpoint{DueNs: 1500e6, On: false})
	if got := printed(b.Advance(3000e6, nil)); got != "2020 1 -" {
		t.Error(got)
	}
}

func TestAdvanceIsHalfOpen(t *testing.T) {
	b := quick(t, 1)
	b.Command(sections.Setpoint{DueNs: 1000e6, On: true})
	if got := printed(b.Advance(1330e6, nil)); got != "" || b.InWork(0) {
		t.Error(got)
	}
	if got := printed(b.Advance(1330e6+1, nil)); got != "1330 1 +" || !b.InWork(0) {
		t.Error(got)
	}
	// All but blocked: would be out of work after millions of years.
	if err := b.SetFault(0, Fault{FlowLoss: math.Nextafter(1, 0)}); err != nil {
		t.Fatal(err)
	}
	b.Command(sections.Setpoint{DueNs: 5e9})
	if got := printed(b.Advance(math.MaxInt64, nil)); got != "" {
		t.Error(got)
	}
}

func TestStart(t *testing.T) {
	b := quick(t, 2)
	b.Record()
	script(b, "1000 1 +, 9990 2 +")
	b.Start(20e9, true)
	if !b.InWork(0) || !b.InWork(1) || b.HeightM(1) != 0 || b.NowNs() != 20e9 {
		t.Error("not in work at rest")
	}
	if out := b.Advance(40e9, nil); len(out) != 0 {
		t.Errorf("%v from before the start", out)
	}
	if got := b.Profile(1); !slices.Equal(got, Profile{{20e9, 0}}) {
		t.Errorf("profile %v", got)
	}
	if b.Advance(30e9, nil); b.NowNs() != 40e9 {
		t.Error("time went back")
	}
}

func TestFault(t *testing.T) {
	b := quick(t, 3)
	for _, f := range []struct {
		i int
		f Fault
	}{{-1, Fault{}}, {3, Fault{}}, {0, Fault{ExtraDeadNs: -1}}, {0, Fault{ExtraDeadNs: 11e9}}, {0, Fault{FlowLoss: 1.01}}, {0, Fault{FlowLoss: -0.01}}} {
		if b.SetFault(f.i, f.f) == nil {
			t.Errorf("%+v accepted", f)
		}
	}

	// Water-filling: 9 L/min on caps of 8, 2 (8 less 75 %) and 8 leaves 3.5 each.
	p := with(func(p *Params) { p.PumpFlowM3PerS = 9 * litrePerMin })
	b, err := New(p, 4)
	if err != nil {
		t.Fatal(err)
	}
	b.Start(0, true)
	if err := b.SetFault(1, Fault{FlowLoss: 0.75, ExtraDeadNs: 40e6}); err != nil {
		t.Fatal(err)
	}
	if err := b.SetFault(3, Fault{FlowLoss: 1}); err != nil {
		t.Fatal(err)
	}
	for i := range int16(4) {
		b.Command(sections.Setpoint{DueNs: 0, Section: i})
	}
	b.Advance(101e6, nil)
	for i, litres := range []float64{3.5, 2, 3.5, 0} {
		near(t, "L/min", b.sections[i].speedMps/b.kinds[0].perFlow/litrePerMin, litres, 1e-9)
	}
	b.Advance(60e9, nil)
	for i, h := range []float64{0.3, 0.3, 0.3, 0} {
		near(t, "height", b.HeightM(i), h, 1e-12)
	}
	// A healed section moves on from where it stands.
	if err := b.SetFault(3, Fault{}); err != nil {
		t.Fatal(err)
	}
	out := b.Advance(120e9, nil)
	full := p.LiftTimeNs(1) - p.LiftDeadNs
	if len(out) != 1 || out[0].TimeNs != 60e9+full {
		t.Errorf("healed: %v, want out of work at %d", out, int64(60e9)+full)
	}
}

func TestProfile(t *testing.T) {
	b := quick(t, 2)
	b.Start(0, true)
	b.Record()
	script(b, "1000 1 -, 3000 2 -")
	got := b.Profile(0)
	if want := (Profile{{0, 0}, {1100e6, 0}, {1400e6, 0.3}}); !slices.Equal(got, want) {
		t.Errorf("section 1: %v, want %v", got, want)
	}
	near(t, "between", got.AtM(1250e6), 0.15, 1e-12)
	near(t, "before", got.AtM(-5), 0, 0)
	near(t, "after", got.AtM(9e9), 0.3, 0)
	near(t, "without knots", Profile(nil).AtM(1), 0, 0)
	if quick(t, 1).Profile(0) != nil {
		t.Error("recorded unasked")
	}
}
