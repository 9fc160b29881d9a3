// What the bench hears of controllers whose clocks are off, which flood it, or
// which write their lines otherwise than agreed. The lines are written here, from
// the README of replay/wire.

package loop

import (
	"fmt"
	"io"
	"math/rand/v2"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/run"
	"liftbench/replay/wire"
)

// spokenLine is a compact line for up to 16 sections, bit i of on being section i+1.
func spokenLine(seq, sections int, instant string, on uint16) string {
	word := uint32(0xFFFFFFFF)
	for i := range sections {
		word &^= 3 << (2 * i)
		word |= uint32(on>>i&1) << (2 * i)
	}
	body := fmt.Sprintf("PLBS,%d,%d,%s,%08X", seq, sections, instant, word)
	sum := byte(0)
	for _, c := range []byte(body) {
		sum ^= c
	}
	return fmt.Sprintf("$%s*%02X\r\n", body, sum)
}

// TestControllerClock: a sound controller whose clock is so far off, with leads of
// up to half a second, on lines that take up to 30 ms.
func TestControllerClock(t *testing.T) {
	const leadNs = 500e6
	for _, c := range []struct {
		aheadS   float64
		off      bool
		says     string
		executed bool
	}{
		{0, false, "", true},
		{1, false, "", true}, // within a lead and a second
		{3, true, "ahead", true},
		{9, true, "ahead", true},
		{18, true, "GPS time is 18 s ahead of UTC", false},
		{3600, true, "ahead", false},
		{-0.5, false, "", true},
		{-3, true, "behind", true},
		{-7200, true, "behind", true},
	} {
		rng := rand.New(rand.NewPCG(1, uint64(int64(c.aheadS*10))))
		o := &Outsider{Heard: run.Heard{LeadNs: leadNs}}
		on := make([]bool, 4)
		for i := range 40 {
			nowNs := int64(1_900_000_000e9) + int64(i)*20e9
			dueNs := nowNs + int64(rng.Float64()*leadNs) - int64(rng.Float64()*30e6) + int64(c.aheadS*1e9)
			var s wire.State
			line := spokenLine(i, 4, fmt.Sprintf("%d.%06d", dueNs/1e9, dueNs%1e9/1000), uint16(i+1)%2*15)
			if err := wire.ParseLine([]byte(line), &s); err != nil {
				t.Fatal(err)
			}
			o.Take(&s, nowNs, on)
		}
		offsetNs, off := o.Clock.OffsetNs(leadNs)
		if off != c.off {
			t.Errorf("%g s ahead: told off %v (%.1f s)", c.aheadS, off, float64(offsetNs)*1e-9)
		}
		if off && (float64(offsetNs)*1e-9 < c.aheadS-0.1 || float64(offsetNs)*1e-9 > c.aheadS+0.6) {
			t.Errorf("%g s ahead: told %.2f s", c.aheadS, float64(offsetNs)*1e-9)
		}
		if says := o.ClockWarning(); !strings.Contains(says, c.says) || (says == "") != (c.says == "") {
			t.Errorf("%g s ahead: says %q", c.aheadS, says)
		}
		if executed := len(o.Setpoints) > 0; executed != c.executed || c.executed == (o.TooFar > 0) {
			t.Errorf("%g s ahead: %d setpoints executed, %d lines not", c.aheadS, len(o.Setpoints), o.TooFar)
		}
	}
}

// flood is a controller that toggles all sections in every line, for ever.
type flood struct {
	lines  int
	unread []byte
}

func (f *flood) Read(b []byte) (int, error) {
	if len(f.unread) == 0 {
		f.unread = []byte(spokenLine(f.lines, 12, "1900000000.000000", uint16(f.lines%2*0xFFF)))
		f.lines++
	}
	n := copy(b, f.unread)
	f.unread = f.unread[n:]
	return n, nil
}

// TestFloodIsBounded: hearing ends, with a bounded number of setpoints kept.
func TestFloodIsBounded(t *testing.T) {
	o := &Outsider{}
	f := &flood{}
	o.hear(f, func() int64 { return 1_900_000_001e9 }, 12)
	if !o.full() || len(o.Setpoints) > maxHeard+12 || f.lines > maxHeard {
		t.Errorf("%d setpoints of %d lines kept; want at most %d", len(o.Setpoints), f.lines, maxHeard+12)
	}
}

// TestDamagedLinesSayWhy: what was wrong with lines is told apart.
func TestDamagedLinesSayWhy(t *testing.T) {
	good := spokenLine(0, 4, "1900000000.000000", 1)
	stream := good + spokenLine(1, 6, "1900000000.000000", 1) + spokenLine(2, 4, "0", 1) + spokenLine(3, 6, "1900000000.000000", 1) +
		strings.Replace(good, "*", "0*", 1) + "$GPGGA,,,,,,0,,,,,,,,*66\r\n"
	o := &Outsider{}
	o.hear(strings.NewReader(stream), func() int64 { return 1_900_000_001e9 }, 4)
	if o.Lines != 1 || o.Others != 1 || o.Damaged != 4 {
		t.Errorf("%d lines, %d others, %d damaged; want 1, 1, 4", o.Lines, o.Others, o.Damaged)
	}
	want := []run.Damage{
		{What: "6 sections; the machine has 4", Lines: 2},
		{What: `instant "0"; expected seconds since 1970 with six decimals`, Lines: 1},
		{What: "checksum that does not match the line", Lines: 1},
	}
	if fmt.Sprint(o.Damages) != fmt.Sprint(want) {
		t.Errorf("%+v; want %+v", o.Damages, want)
	}
	for i := range 20 {
		o.hear(io.MultiReader(strings.NewReader(spokenLine(i, 5+i%10, "1900000000.000000", 0))), func() int64 { return 0 }, 4)
	}
	if len(o.Damages) > 5 {
		t.Errorf("%d kinds of damage kept", len(o.Damages))
	}
}
