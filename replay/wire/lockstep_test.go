// The words of lockstep: what is written is read again, and nothing else is.

package wire

import (
	"bytes"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/paulmach/orb"

	"liftbench/sections"
	"liftbench/sections/field"
	"liftbench/sections/geodesy"
)

func TestParseAnswer(t *testing.T) {
	for _, tc := range []struct {
		line string
		kind AnswerKind
		atNs int64
		want string // in the error; "" = none
	}{
		{"done 1936274587.300000001\n", Done, 1936274587_300000001, ""},
		{"done 0.000000000\r\n", Done, 0, ""},
		{"done 9223372035.999999999", Done, 9223372035_999999999, ""},
		{"done 9223372036.000000000", 0, 0, "nine decimals"},
		{"done 1936274587.300000", 0, 0, "nine decimals"},
		{"done", 0, 0, "nine decimals"},
		{"done  1.000000000", 0, 0, "nine decimals"},
		{"done 01.000000000", 0, 0, "nine decimals"},
		{"ready 1", Ready, 0, ""},
		{"ready 2", 0, 0, "expected ready 1"},
		{"ready", 0, 0, "expected ready 1"},
		{`{"due":"2026-05-12T08:00:07.543059005Z","section":2,"on":true,"reason":"border"}`, OneSection, 0, ""},
		{`{"due":"2026-05-12T08:00:07.543059005Z","section":0,"on":true,"reason":"border"}`, 0, 0, "section 0"},
		{"  can0  0CCBFFF7   [8]  03 00 22 01 00 F0 FF FF", OneFrame, 0, ""},
		{"  can0  0CCBFFF7   [8]  03 00 22", 0, 0, "[3]"},
		{"$PLBS,0,1,5.000000,FFFFFFFC*00", 0, 0, "checksum"},
		{"hello", 0, 0, "expected setpoints"},
		{"", 0, 0, "empty"},
	} {
		var a Answer
		err := ParseAnswer([]byte(tc.line), &a)
		switch {
		case tc.want == "" && (err != nil || a.Kind != tc.kind || a.AtNs != tc.atNs):
			t.Errorf("%q: %v, kind %d, at %d", tc.line, err, a.Kind, a.AtNs)
		case tc.want != "" && (!errors.Is(err, ErrAnswer) || !strings.Contains(err.Error(), tc.want)):
			t.Errorf("%q: %v; want %q", tc.line, err, tc.want)
		}
	}
	state := NewState(3)
	state.Set(1, true)
	state.DueNs = 5e9
	var a Answer
	if err := ParseAnswer(AppendLine(nil, &state), &a); err != nil || a.Kind != AllStates || a.State != state {
		t.Errorf("%v: %+v; want %+v", err, a.State, state)
	}
}

func TestLockstepJob(t *testing.T) {
	plane := geodesy.NewPlane(52.3, 9.8)
	square := orb.MultiPolygon{{{{-20, 0}, {20, 0}, {20, 40}, {-20, 40}, {-20, 0}}, {{-1, 10}, {-1, 12}, {1, 12}, {1, 10}, {-1, 10}}}}
	f, err := field.New(plane, nil, []field.Zone{
		{Kind: field.Body, RowBearingRad: math.Pi / 2, Polygons: square[:1]},
		{Kind: field.Headland, RowBearingRad: math.NaN(), Unworked: true, Polygons: orb.MultiPolygon{square[0][:1]}},
	})
	if err != nil {
		t.Fatal(err)
	}
	got := string(AppendLockstepJob(nil, &LockstepJob{
		Machine: &sections.Machine{AntennaXM: 0.9, AntennaYM: -0.1, Sections: []sections.Section{{XM: -2, YM: -1.5, WidthM: 3}, {XM: -2, YM: 1.5, WidthM: 3}}},
		Field:   f, TickNs: 50e6, LiftLeadNs: 312e6, DropLeadNs: 405e6, LatencyNs: 100e6,
	}))
	for _, want := range []string{
		"job 1 lockstep\nsections 2\ntick 0.050000000\nlead 0.312000000 0.405000000\nlatency 0.100000000 assumed\nantenna 0.9000 -0.1000\n",
		"section 1 -2.0000 -1.5000 3.0000\nsection 2 -2.0000 1.5000 3.0000\nzone body 90.000000\noutline 5\npoint ",
		"hole 5\npoint ", "zone left -\noutline 5\n", "\nstart\n",
	} {
		if !strings.Contains(got, want) {
			t.Errorf("no %q in\n%s", want, got)
		}
	}
	if n := strings.Count(got, "\npoint 52.3"); n != 15 {
		t.Errorf("%d points; want 15\n%s", n, got)
	}
}

func TestTurnAllocatesNothing(t *testing.T) {
	b := make([]byte, 0, 200)
	if n := testing.AllocsPerRun(100, func() {
		b = append(AppendNow(b[:0], 1936274587_300000000), Turn...)
		b = AppendDone(b, 1936274587_300000000)
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
	if string(b) != "now 1936274587.300000000\nturn\ndone 1936274587.300000000\n" {
		t.Errorf("%q", b)
	}
	if got := string(AppendDone(nil, math.MaxInt64)); got != "done 9223372035.999999999\n" {
		t.Errorf("the end of time is written %q", got)
	}
	var a Answer
	line := []byte("done 1936274587.300000000\n")
	if n := testing.AllocsPerRun(100, func() { ParseAnswer(line, &a) }); n != 0 {
		t.Errorf("%v allocations to read done", n)
	}
}

func FuzzParseAnswer(f *testing.F) {
	state := NewState(17)
	for _, seed := range []string{
		"done 1936274587.300000000\n", "ready 1", "done 9223372036.000000000", "  can0  0CCBFFF7   [8]  03 00 22 01 00 F0 FF FF",
		`{"due":"2026-05-12T08:00:07.543059005Z","section":2,"on":true,"reason":"border"}`, string(AppendLine(nil, &state)),
	} {
		f.Add([]byte(seed))
	}
	f.Fuzz(func(t *testing.T, line []byte) {
		var a Answer
		if err := ParseAnswer(line, &a); err != nil {
			if !errors.Is(err, ErrAnswer) {
				t.Fatal(err)
			}
			return
		}
		line = trimLineEnd(line)
		var again []byte
		switch a.Kind {
		case Done:
			again = AppendDone(nil, a.AtNs)
		case Ready:
			again = AppendReady(nil)
		case AllStates:
			again = AppendLine(nil, &a.State)
		default:
			return // their own targets
		}
		if !bytes.Equal(trimLineEnd(again), line) {
			t.Fatalf("%q is written again as %q", line, again)
		}
	})
}
