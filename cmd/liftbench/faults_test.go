//go:build linux

package main

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"math"
	"math/rand/v2"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/sections"
	"liftbench/sim/receiver"
)

// fault is one thing that goes wrong with a live machine.
type fault struct {
	name string
	// stream alters what the receiver says; nil = nothing.
	stream func(s *straight, e []burst) []burst
	// do acts on the world while the drive goes on.
	do func(w *world)
	// logged is what then is missing in a log; nil = nothing.
	logged func(s *straight, e []burst) []burst
	// args are more arguments for live.
	args func(t *testing.T, dir string) []string

	// loseS and backS are when position is lost, and known again: between
	// loseS + age + hold and backS no section is in work. 0 = it is not lost.
	loseS, backS float64
	reason       string             // of the fail-safe
	counts       map[string]float64 // metrics at the end that must be at least so much
	toleranceM   float64            // beyond the 0.2 m of rounding, ticks and noise
	chance       bool               // it is another one with another seed
	noticedS     float64            // how much sooner or later it is noticed, by what came before
	stopped      bool               // by a signal, in mid-lift
	head         bool               // it is one of the first epochs of a stream alone
	gone         bool               // the field lies behind when position is back

	row string // what the controller did, for people
}

// world is what surrounds live in one case.
type world struct {
	t     *testing.T
	s     *straight
	cable *serialLine
	live  *process
	peer  net.Conn // reads compact lines
}

func (w *world) sleepUntil(seconds float64) { time.Sleep(time.Until(time.Unix(0, w.s.at(seconds)))) }

// The long zone is in work from 6.7 s to 16.7 s of the drive.
const breakS, mendS = 8.0, 11.0

// midLiftS is when half of the sections have been told to lift at the slanting
// border: the bar's middle is at n = 18 m less the lead.
const midLiftS = (firstHi+2-straightFrom)/straightMps - liftLeadS

// stretchS is how long a stretch takes by which positions are compared with speed
// and course: where one begins hangs on all the way before.
const stretchS = 0.4

var faults = []fault{
	{
		name: "all well",
		args: func(_ *testing.T, dir string) []string { return []string{"--record", filepath.Join(dir, "day")} },
	},
	{
		name: "unplugged and plugged in again", loseS: breakS, backS: 10, reason: "lost-fix",
		do: func(w *world) {
			w.sleepUntil(breakS)
			w.cable.unplug()
			w.sleepUntil(10)
			w.cable.plug()
		},
		logged: func(s *straight, e []burst) []burst { return s.silent(e, breakS, 10) },
		counts: map[string]float64{"liftbench_port_reconnects_total": 1},
	},
	{
		name: "half a sentence",
		stream: func(s *straight, e []burst) []burst {
			k := 0
			return s.between(e, breakS, mendS, func(e *burst) {
				if k++; k%2 == 0 {
					e.text = e.text[:len(e.text)/2]
				}
			})
		},
		counts: map[string]float64{`liftbench_sentences_total{result="malformed",type="any"}`: 10},
	},
	{
		name: "float", loseS: breakS - maxAgeS, backS: mendS, reason: "low-quality",
		stream: func(s *straight, e []burst) []burst { return s.quality(e, "5", "A") },
		counts: map[string]float64{`liftbench_fixes_rejected_total{reason="low-quality"}`: 29},
	},
	{
		name: "no fix", loseS: breakS - maxAgeS, backS: mendS, reason: "low-quality",
		stream: func(s *straight, e []burst) []burst { return s.quality(e, "0", "V") },
		counts: map[string]float64{`liftbench_epochs_total{quality="no_fix"}`: 29},
	},
	{
		name:   "jump of 5 m for 0.3 s",
		stream: func(s *straight, e []burst) []burst { return s.jump(e, breakS, breakS+0.3, 5) },
		counts: map[string]float64{`liftbench_fixes_rejected_total{reason="jump"}`: 3},
	},
	{
		name: "jump of 5 km for 3 s",
		// Believed after 0.5 s, and back again 0.5 s after the end.
		stream: func(s *straight, e []burst) []burst { return s.jump(e, breakS, mendS, 5000) },
		loseS:  breakS - 0.3, backS: mendS,
		counts: map[string]float64{`liftbench_fixes_rejected_total{reason="jump"}`: 8},
	},
	{
		// Two stretches of more than 2 m, and the one begun before, take 1.2 s at 6 m/s and
		// 10 Hz. A position that stays behind so far counts as a jump until it has done so
		// five times, some of them meanwhile.
		name: "position stands still for 3 s", loseS: breakS + 1.5 - maxAgeS, backS: mendS, reason: "frozen-fix", noticedS: stretchS,
		stream: func(s *straight, e []burst) []burst {
			still := standStill()
			return s.between(e, breakS, mendS, func(e *burst) { e.text = respeak(e.text, still) })
		},
		counts: map[string]float64{`liftbench_fixes_rejected_total{reason="frozen"}`: 15},
	},
	{
		name: "course a right angle off for 3 s", loseS: breakS + 1.5 - maxAgeS, backS: mendS, reason: "frozen-fix", noticedS: stretchS,
		stream: func(s *straight, e []burst) []burst {
			return s.between(e, breakS, mendS, func(e *burst) {
				e.text = respeak(e.text, func(f []string) {
					at := map[string]int{"RMC": 8, "VTG": 1}[f[0][3:]]
					if at != 0 && f[at] != "" {
						course, _ := strconv.ParseFloat(f[at], 64)
						f[at] = fmt.Sprintf("%.2f", math.Mod(course+90, 360))
					}
				})
			})
		},
		counts: map[string]float64{`liftbench_fixes_rejected_total{reason="frozen"}`: 15},
	},
	{
		// It is believed, and the drive's time goes on as before.
		name:   "receiver's clock 10 s ahead",
		stream: func(s *straight, e []burst) []burst { return s.step(e, breakS, clockMendS, 10*time.Second) },
		counts: map[string]float64{`liftbench_receiver_clock_sets_total`: 1},
	},
	{
		name:   "receiver's clock 10 s back",
		stream: func(s *straight, e []burst) []burst { return s.step(e, breakS, clockMendS, -10*time.Second) },
		counts: map[string]float64{`liftbench_receiver_clock_sets_total`: 1},
	},
	{
		name:   "the time an hour ahead for 0.2 s",
		stream: func(s *straight, e []burst) []burst { return s.step(e, breakS, breakS+0.2, time.Hour) },
		counts: map[string]float64{`liftbench_epochs_dropped_total{reason="not-believed"}`: 2},
	},
	{
		name: "one date ten years ahead",
		stream: func(s *straight, e []burst) []burst {
			return s.step(e, breakS, breakS+0.1/(dayHz/10), 3652*24*time.Hour)
		},
		counts: map[string]float64{`liftbench_dates_not_believed_total`: 1},
	},
	{
		name: "ten epochs a day ahead at the head", head: true,
		stream: func(s *straight, e []burst) []burst {
			stepped := s.step(e[:10:10], -3600, 3600, 24*time.Hour)
			return append(stepped, e[10:]...)
		},
		counts: map[string]float64{`liftbench_dates_not_believed_total`: 5},
	},
	{
		name: "epochs twice, and swapped",
		stream: func(s *straight, e []burst) []burst {
			var out []burst
			for i := range e {
				x := e[i]
				switch {
				case i%7 == 3 && i+1 < len(e):
					x.text = e[i+1].text
				case i%7 == 4:
					x.text = e[i-1].text
				}
				x.text = bytes.Repeat(x.text, 2)
				out = append(out, x)
			}
			return out
		},
		counts: map[string]float64{
			`liftbench_epochs_dropped_total{reason="duplicate"}`:    50,
			`liftbench_epochs_dropped_total{reason="out-of-order"}`: 5,
		},
		toleranceM: 0.2,
	},
	{
		name: "one byte in a thousand wrong",
		stream: func(s *straight, e []burst) []burst {
			rng := rand.New(rand.NewPCG(s.seed, 2))
			return s.between(e, 0, 60, func(e *burst) {
				e.text = bytes.Clone(e.text)
				for i := range e.text {
					if rng.Float64() < 1e-3 {
						e.text[i] ^= byte(1 + rng.IntN(255))
					}
				}
			})
		},
		counts:     map[string]float64{`liftbench_sentences_total{result="bad_checksum",type="any"}`: 5},
		toleranceM: 0.3,
		chance:     true,
	},
	{
		// Two of them at the same bit of a sentence pass its checksum.
		name: "one bit in one byte of a thousand wrong",
		stream: func(s *straight, e []burst) []burst {
			k := s.seed
			return s.between(e, 0, 60, func(e *burst) {
				k += 1000
				e.text = []byte(flipBits(string(e.text), 1e-3, k))
			})
		},
		counts:     map[string]float64{`liftbench_sentences_total{result="bad_checksum",type="any"}`: 5},
		toleranceM: 0.3,
		chance:     true,
	},
	{
		name: "two receivers interleaved",
		stream: func(s *straight, e []burst) []burst {
			// The second antenna is 0.4 m behind the first, and says so 20 ms later.
			var out []burst
			for _, x := range e {
				y := x
				y.arrivalNs += 20e6
				y.text = respeak(x.text, func(fields []string) {
					moveNorth(fields, -0.4)
					fields[0] = "$GN" + fields[0][3:]
				})
				out = append(out, x, y)
			}
			return out
		},
		toleranceM: 0.8,
	},
	{
		name: "recording on a full disk",
		args: func(t *testing.T, dir string) []string {
			small := filepath.Join(dir, "small")
			if err := os.Mkdir(small, 0o755); err != nil {
				t.Fatal(err)
			}
			if err := syscall.Mount("tmpfs", small, "tmpfs", 0, "size=4k"); err != nil {
				outside(t, "a file system of 4 KiB (mount as root: "+err.Error()+")")
			}
			t.Cleanup(func() { syscall.Unmount(small, 0) })
			return []string{"--record", filepath.Join(small, "day"), "--record-sync", "200ms"}
		},
		counts: map[string]float64{"liftbench_recording_lost_sentences_total": 100},
	},
	{
		name: "output peer gone",
		do: func(w *world) {
			w.sleepUntil(breakS)
			w.peer.Close()
		},
	},
	{
		name: "SIGTERM in a lift", loseS: midLiftS - maxAgeS - holdS, backS: 60, stopped: true,
		do: func(w *world) {
			w.sleepUntil(midLiftS)
			w.live.cmd.Process.Signal(syscall.SIGTERM)
		},
	},
}

// TestFaults: whatever goes wrong, the fail-safe is reached within its time, no
// section is in work outside its zone, and the work goes on when all is well
// again. All drives go on at the same time.
func TestFaults(t *testing.T) {
	onTheClock(t)
	t.Parallel()
	worlds := make([]*world, len(faults))
	for i := range faults {
		t.Run("start/"+faults[i].name, func(*testing.T) { worlds[i] = faults[i].start(t) })
	}
	startNs := soon()
	var drives sync.WaitGroup
	for i, w := range worlds {
		f := &faults[i]
		w.s = newStraightAgain(w.s, startNs)
		epochs := w.s.epochs(t, receiver.Params{SigmaM: 0.005, Seed: 1})
		if f.stream != nil {
			epochs = f.stream(w.s, epochs)
		}
		drives.Go(func() { feed(w.cable, epochs) })
		if f.do != nil {
			drives.Go(func() { f.do(w) })
		}
	}
	drives.Wait()
	// All at once, for without positions there is soon a fail-safe.
	for _, w := range worlds {
		w.live.cmd.Process.Signal(syscall.SIGTERM)
	}
	for i, w := range worlds {
		t.Run(faults[i].name, func(t *testing.T) {
			if status := w.live.wait(30 * time.Second); status != 0 {
				t.Errorf("exit status %d: %s", status, w.live.stderr.String())
			}
			lines, _ := w.live.stdout.lines()
			faults[i].judge(t, w.s, readSetpoints(t, lines), readMetrics(t, filepath.Join(w.s.dir, "live.prom")))
			if t.Failed() {
				t.Log(w.live.stderr.String())
			}
		})
	}
	var table strings.Builder
	for i := range faults {
		table.WriteString(faults[i].row)
	}
	t.Logf("\n| fault | drops | lifts | all up after, s | set, s |\n| --- | --- | --- | --- | --- |\n%s", table.String())
	t.Run("the recording, run", func(t *testing.T) {
		w := worlds[0]
		files, _ := filepath.Glob(filepath.Join(w.s.dir, "day-*.nmea"))
		if len(files) != 1 {
			t.Fatalf("recordings %q; want one", files)
		}
		lines, _ := w.live.stdout.lines()
		sameDecisions(t, readSetpoints(t, lines), decided(t, w.s.machine, w.s.field, files[0]))
	})
}

// decided are the setpoints of run on a log.
func decided(t *testing.T, machine, field, log string) []sections.Setpoint {
	t.Helper()
	u, err := (&settings.Selection{Machine: machine, Field: field, Arg: log}).Load()
	if err != nil {
		t.Fatal(err)
	}
	o, err := run.Drive(u, nil, io.Discard, false)
	if err != nil {
		t.Fatal(err)
	}
	return o.Setpoints
}

// sameDecisions: command for command, to the nanosecond. The lifts with which
// live ends are its own.
func sameDecisions(t *testing.T, live, run []sections.Setpoint) {
	t.Helper()
	live = slices.DeleteFunc(live, func(s sections.Setpoint) bool { return s.Reason == sections.HeldUp })
	if !slices.Equal(live, run) || len(run) < 10 {
		t.Errorf("live decided %d setpoints, run %d; want the same ones", len(live), len(run))
	}
}

// TestPacedLogDecidesAsRun: the demo's drive, 49 minutes of it in two seconds.
func TestPacedLogDecidesAsRun(t *testing.T) {
	onTheClock(t)
	t.Chdir(t.TempDir())
	for _, args := range []string{"check --write-demo .", "drive --out day.nmea"} {
		if status, _, stderr := command("", strings.Fields(args)...); status != 0 {
			t.Fatal(stderr)
		}
	}
	status, stdout, stderr := command("", strings.Fields("live --machine machine.yaml --field field.geojson --in file:day.nmea --pace 3000")...)
	if status != 0 {
		t.Fatal(stderr)
	}
	live := readSetpoints(t, bytes.Split([]byte(strings.TrimSuffix(stdout, "\n")), []byte("\n")))
	sameDecisions(t, live, decided(t, "machine.yaml", "field.geojson", "day.nmea"))
}

// longSilence lasts until the tractor is far beyond the field.
var longSilence = fault{
	name: "30 s of silence", loseS: breakS, backS: 45, reason: "lost-fix", gone: true,
	stream: func(s *straight, e []burst) []burst { return s.silent(e, breakS, breakS+30) },
}

// TestLongSilence: 30 s without a sentence, at 40 times real time; the tractor
// drives on out of the field.
func TestLongSilence(t *testing.T) {
	onTheClock(t)
	s := newStraight(t, faultSections, "200", "300", 1_900_000_000e9)
	last := s.track[len(s.track)-1]
	for from := s.track[0]; last.TimeNs < s.at(45); {
		last.TimeNs += 100e6
		last.NorthM = from.NorthM + straightMps*float64(last.TimeNs-from.TimeNs)*1e-9
		s.track = append(s.track, last)
	}
	var log []byte
	for _, e := range longSilence.stream(s, s.epochs(t, receiver.Params{Stamp: receiver.UnixStamp})) {
		log = append(log, e.text...)
	}
	s.write(t, "day.nmea", string(log))
	status, stdout, stderr := command("", "live", "--machine", s.machine, "--field", s.field,
		"--in", "file:"+filepath.Join(s.dir, "day.nmea"), "--pace", "40", "--metrics-file", filepath.Join(s.dir, "live.prom"))
	if status != 0 {
		t.Fatal(stderr)
	}
	f := longSilence
	f.judge(t, s, readSetpoints(t, bytes.Split([]byte(strings.TrimSuffix(stdout, "\n")), []byte("\n"))), readMetrics(t, filepath.Join(s.dir, "live.prom")))
	if t.Log(f.row); t.Failed() {
		t.Log(stderr)
	}
}

const faultSections = 12

// start starts live in a world of its own.
func (f *fault) start(t *testing.T) *world {
	w := &world{t: t, s: newStraight(t, faultSections, "200", "300", 0)}
	dir := w.s.dir
	w.cable = newSerialLine(t, filepath.Join(dir, "gps"))
	port := freePort(t)
	args := []string{"live", "--machine", w.s.machine, "--field", w.s.field, "--in", "serial:" + w.cable.name + "?baud=115200",
		"--out", "json=-", "--out", "line=tcp-listen:127.0.0.1:" + port,
		"--http", "127.0.0.1:0", "--metrics-file", filepath.Join(dir, "live.prom")}
	if f.args != nil {
		args = append(args, f.args(t, dir)...)
	}
	w.live = start(t, "liftbench", args...)
	w.live.says("http://", "/metrics") // it is up
	w.peer = dial(t, "127.0.0.1:"+port)
	go io.Copy(io.Discard, w.peer)
	dial(t, "127.0.0.1:"+port) // never reads
	return w
}

// judge holds what the controller did, and counted, against what it must have
// done.
func (f *fault) judge(t *testing.T, s *straight, setpoints []sections.Setpoint, metrics map[string]float64) {
	t.Helper()
	s.neverOutside(t, setpoints, 0.2+f.toleranceM)

	drops, byReason := 0, map[sections.Reason]int{}
	for _, sp := range setpoints {
		if sp.On {
			drops++
		} else {
			byReason[sp.Reason]++
		}
	}
	var lifts []string
	for r := range sections.FrozenFix + 1 {
		if n := byReason[r]; n > 0 {
			lifts = append(lifts, fmt.Sprintf("%d %s", n, r.String()))
		}
	}
	after, set := "", ""
	want := 2 * faultSections // both zones
	if f.loseS != 0 && f.backS < 60 && !f.gone {
		want = 3 * faultSections // and again after the fault
	} else if f.stopped {
		want = faultSections
		if byReason[sections.AtBorder] == 0 || byReason[sections.HeldUp] == 0 {
			t.Errorf("lifts by reason %v; want some at the border and the rest by the signal", byReason)
		}
	}
	if drops != want {
		t.Errorf("%d drops, want %d", drops, want)
	}
	if f.loseS != 0 {
		from, to := s.at(f.loseS+maxAgeS+holdS), s.at(f.backS)
		latest := int64(0)
		for _, x := range works(setpoints) {
			on, off := x.fromNs, x.tillNs
			if on < s.at(f.loseS) && off > s.at(f.loseS) {
				latest = max(latest, off)
			}
			// A tick and a fix's latency later at most.
			if off > from+100e6 && on < to {
				t.Errorf("section %d in work from %.2f s to %.2f s; position was lost at %.2f s", x.section+1,
					float64(on-s.startNs)*1e-9, float64(off-s.startNs)*1e-9, f.loseS)
			}
		}
		began := breakS
		if f.stopped {
			began = midLiftS
		}
		after = fmt.Sprintf("%.2f", float64(max(latest-s.at(began), 0))*1e-9)
		set = fmt.Sprintf("%.2f", max(f.loseS+maxAgeS+holdS-began, 0))
	}
	f.row = fmt.Sprintf("| %s | %d | %s | %s | %s |\n", f.name, drops, strings.Join(lifts, ", "), after, set)

	for _, reason := range []string{"lost-fix", "low-quality", "frozen-fix"} {
		got, want := metrics[`liftbench_fail_safe_entries_total{reason="`+reason+`"}`], 0.0
		if reason == f.reason {
			want = 1
		}
		if got != want {
			t.Errorf("%g fail-safes for %s; want %g", got, reason, want)
		}
	}
	for name, least := range f.counts {
		got := 0.0
		for line, v := range metrics {
			if strings.HasPrefix(line, name) {
				got += v
			}
		}
		if got < least {
			t.Errorf("%s is %g, want at least %g", name, got, least)
		}
	}
}

// newStraightAgain is the same drive at another time.
func newStraightAgain(s *straight, startNs int64) *straight {
	again := *s
	again.startNs = startNs
	again.track = append(again.track[:0:0], s.track...)
	for i := range again.track {
		again.track[i].TimeNs += startNs - s.startNs
	}
	return &again
}

// respeak alters the fields of every sentence of a text and gives it its new
// checksum.
func respeak(text []byte, alter func(fields []string)) []byte {
	var out []byte
	for line := range strings.Lines(string(text)) {
		body, _, _ := strings.Cut(line, "*")
		fields := strings.Split(body, ",")
		alter(fields)
		body = strings.Join(fields, ",")
		sum := byte(0)
		for i := 1; i < len(body); i++ {
			sum ^= body[i]
		}
		out = fmt.Appendf(out, "%s*%02X\r\n", body, sum)
	}
	return out
}

// quality gives the positions of the fault another quality and status.
func (s *straight) quality(e []burst, quality, status string) []burst {
	return s.between(e, breakS, mendS, func(e *burst) {
		e.text = respeak(e.text, func(f []string) {
			switch f[0][3:] {
			case "GGA":
				f[6] = quality
			case "RMC":
				f[2] = status
				if len(f) > 12 {
					f[12] = map[string]string{"0": "N", "5": "F"}[quality]
				}
			case "VTG":
				f[9] = map[string]string{"0": "N", "5": "F"}[quality]
			}
		})
	})
}

// silent leaves out the epochs of an interval of the drive.
func (s *straight) silent(epochs []burst, from, to float64) []burst {
	return slices.DeleteFunc(slices.Clone(epochs), func(e burst) bool { return e.timeNs >= s.at(from) && e.timeNs < s.at(to) })
}

// jump moves positions north.
func (s *straight) jump(e []burst, from, to, byM float64) []burst {
	return s.between(e, from, to, func(e *burst) {
		e.text = respeak(e.text, func(f []string) { moveNorth(f, byM) })
	})
}

// standStill returns what gives every GGA and RMC the position of the first one.
func standStill() func(fields []string) {
	var held []string
	return func(f []string) {
		at := map[string]int{"GGA": 2, "RMC": 3}[f[0][3:]]
		if at == 0 {
			return
		}
		if held == nil {
			held = slices.Clone(f[at : at+4])
		}
		copy(f[at:], held)
	}
}

// moveNorth moves the latitude of a GGA or RMC.
func moveNorth(f []string, byM float64) {
	at := map[string]int{"GGA": 2, "RMC": 3}[f[0][3:]]
	if at == 0 {
		return
	}
	deg, _ := strconv.ParseFloat(f[at][:2], 64)
	minutes, _ := strconv.ParseFloat(f[at][2:], 64)
	// One minute of latitude at 52.3° is 1854.6 m (WGS 84 meridian radius).
	minutes += byM / 1854.6
	for minutes >= 60 {
		deg, minutes = deg+1, minutes-60
	}
	f[at] = fmt.Sprintf("%02.0f%011.8f", deg, minutes)
}

// clockMendS is when a clock that was set wrong is set right, on drives that
// last so long.
const clockMendS = 30.0

// step has the receiver tell a wrong time, from one second of the drive to another.
func (s *straight) step(e []burst, from, to float64, by time.Duration) []burst {
	return s.between(e, from, to, func(e *burst) {
		to := time.Unix(0, e.timeNs).UTC().Add(by)
		e.text = respeak(e.text, func(f []string) {
			if f[0][3:] == "VTG" {
				return
			}
			f[1] = to.Format("150405.000")
			if f[0][3:] == "RMC" {
				f[9] = to.Format("020106")
			}
		})
	})
}

// readMetrics reads a text file of metrics by the line in front of the value.
func readMetrics(t testing.TB, path string) map[string]float64 {
	t.Helper()
	data, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	return parseMetrics(data)
}

func parseMetrics(data []byte) map[string]float64 {
	out := map[string]float64{}
	sc := bufio.NewScanner(bytes.NewReader(data))
	for sc.Scan() {
		if name, value, ok := strings.Cut(sc.Text(), "} "); ok {
			out[name+"}"], _ = strconv.ParseFloat(value, 64)
		} else if name, value, ok := strings.Cut(sc.Text(), " "); ok && name != "#" {
			out[name], _ = strconv.ParseFloat(value, 64)
		}
	}
	return out
}

// lastPort is the port given last.
var lastPort atomic.Int64

// freePort returns a port of 127.0.0.1 that nobody listens on, by TCP or UDP, and
// that no other test is given. It lies below those that a kernel gives on its own
// to what connects or asks for port 0 (on Linux from 32768), so that it is still
// free when its user comes to it.
func freePort(t testing.TB) string {
	t.Helper()
	const first, count = 20000, 12000
	lastPort.CompareAndSwap(0, int64(os.Getpid())*101) // another process begins elsewhere
	for range count {
		port := strconv.FormatInt(first+lastPort.Add(1)%count, 10)
		l, err := net.Listen("tcp", "127.0.0.1:"+port)
		if err != nil {
			continue
		}
		l.Close()
		c, err := net.ListenPacket("udp", "127.0.0.1:"+port)
		if err != nil {
			continue
		}
		c.Close()
		return port
	}
	t.Fatal("no port is free")
	return ""
}

// dial connects as soon as somebody listens.
func dial(t testing.TB, addr string) net.Conn {
	t.Helper()
	for end := time.Now().Add(30 * time.Second); ; time.Sleep(5 * time.Millisecond) {
		c, err := net.Dial("tcp", addr)
		if err == nil {
			t.Cleanup(func() { c.Close() })
			return c
		}
		if time.Now().After(end) {
			t.Fatal(err)
		}
	}
}
