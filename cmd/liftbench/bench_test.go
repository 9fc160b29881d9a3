//go:build linux

// Controllers from outside, played against: good, naive, idle and mute ones.

package main

import (
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"liftbench/cmd/liftbench/loop"
	"liftbench/cmd/liftbench/report"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/settings"
	"liftbench/replay/wire"
	"liftbench/sim/receiver"
)

// TestOutsideControllers: a naive controller comes out late by its missing
// lead, as a time and as v·lead on the ground, whatever line it hangs on; our
// own, as an outside program on a serial line, is not late. All drives go on
// at the same time, at true pace.
func TestOutsideControllers(t *testing.T) {
	onTheClock(t)
	t.Parallel()
	s := newStraight(t, 12, "auto", "auto", 1_900_000_000e9)
	var log []byte
	for _, e := range s.epochs(t, receiver.Params{Stamp: receiver.RFC3339Stamp}) {
		log = append(log, e.text...)
	}
	s.write(t, "day.nmea", string(log))
	bench := func(out string, args ...string) []string {
		return append([]string{"bench", "--machine", s.machine, "--field", s.field, "--against", "own", "--out", filepath.Join(s.dir, out),
			filepath.Join(s.dir, "day.nmea")}, args...)
	}

	tcp, near, far := "127.0.0.1:"+freePort(t), newSerialLine(t, filepath.Join(s.dir, "near")), newSerialLine(t, filepath.Join(s.dir, "far"))
	go io.Copy(near.end(), far.end()) // a null modem
	go io.Copy(far.end(), near.end())
	hears, says, http := "127.0.0.1:"+freePort(t), "127.0.0.1:"+freePort(t), "127.0.0.1:"+freePort(t)
	benches := []struct {
		name, out string
		args      []string
		naive     bool
	}{
		{"naive by TCP", "tcp", bench("tcp", "--to", "tcp-listen:"+tcp, "--http", http), true},
		{"naive by UDP", "udp", bench("udp", "--to", "udp:"+hears, "--from", "udp-listen:"+says, "--metrics-file", filepath.Join(s.dir, "bench.prom")), true},
		{"our own by a serial line", "serial", bench("serial", "--to", "serial:"+near.name+"?baud=115200"), false},
	}
	start(t, "naive", "udp", s.machine, s.field, hears, says)
	line := "serial:" + far.name + "?baud=115200"
	start(t, "liftbench", "live", "--machine", s.machine, "--field", s.field, "--in", line, "--out", "line="+line, "--http", "127.0.0.1:0").says("http://", "/metrics")
	var drives sync.WaitGroup
	results := make([]struct {
		status         int
		stdout, stderr string
	}, len(benches))
	for i := range benches {
		r := &results[i]
		drives.Go(func() { r.status, r.stdout, r.stderr = command("", benches[i].args...) })
	}
	dial(t, tcp).Close() // bench listens; it waits for the next peer when one has gone
	dial(t, http).Close()
	if status, body := get(t, "http://"+http+"/readyz", ""); status != 503 || body != "no setpoint yet\n" {
		t.Errorf("/readyz before the controller is there: %d %s", status, body)
	}
	start(t, "naive", "tcp", s.machine, s.field, tcp)
	ready, figures := 0, ""
	for end := time.Now().Add(20 * time.Second); time.Now().Before(end) && metricValue(figures, `liftbench_setpoints_total{move="drop",reason="border"}`) == 0; time.Sleep(200 * time.Millisecond) {
		_, figures = get(t, "http://"+http+"/metrics", "")
		ready, _ = get(t, "http://"+http+"/readyz", "")
	}
	for _, name := range []string{`sentences_total{result="ok",type="GGA"}`, `setpoints_total{move="drop",reason="border"}`, `output_sent_total{port="tcp-listen:` + tcp + `"}`} {
		if metricValue(figures, "liftbench_"+name) == 0 {
			t.Errorf("/metrics: no %s while the drive is played", name)
		}
	}
	if ready != 200 {
		t.Errorf("/readyz when the controller answers: %d", ready)
	}
	if _, state := get(t, "http://"+http+"/api/live/state", ""); !strings.Contains(state, `"track"`) {
		t.Errorf("the page sees %.100s", state)
	}
	drives.Wait()

	job := run.Job(s.setup)
	// What the computer adds to the way to and from the controllers, as the bench
	// itself says: little, if it has nothing else to do.
	worstS := 0.0
	for i, b := range benches {
		if results[i].status != 0 {
			continue
		}
		x := readSummary(t, filepath.Join(s.dir, b.out)).Outside
		onWayS := x.WorstAfterS
		if b.naive {
			onWayS -= latencyS
		}
		worstS = max(worstS, onWayS, x.PlayedLateS)
		t.Logf("%s: sentences played %.1f ms late, lines %.1f ms on their way, at worst", b.name, x.PlayedLateS*1e3, onWayS*1e3)
	}
	// A controller that has no position for so long is right to lift.
	if worstS > maxAgeS/2 {
		t.Logf("this computer stood still for %.1f s: the controllers cannot be judged", worstS)
		return
	}
	for i, b := range benches {
		t.Run(b.name, func(t *testing.T) {
			r := &results[i]
			if r.status != 0 {
				t.Fatalf("exit status %d: %s", r.status, r.stderr)
			}
			if !strings.Contains(r.stdout, "Beside our own controller") {
				t.Error("no comparison:", r.stdout)
			}
			if words := warns(r.stderr); words != strings.Contains(b.name, "serial") {
				t.Errorf("safety words %v on standard error: %s", words, r.stderr)
			}
			out := filepath.Join(s.dir, b.out)
			theirs, ours := readSummary(t, out), readSummary(t, filepath.Join(out, "own"))
			for _, move := range []struct {
				name         string
				theirs, ours *float64
				place        *float64
				leadS        float64
			}{
				{"lifts", &theirs.Lift.TimeErrorS.Mean, &ours.Lift.TimeErrorS.Mean, &theirs.Lift.PlaceErrorM.Mean, float64(job.Settings.LiftLead.AloneNs()) * 1e-9},
				{"drops", &theirs.Drop.TimeErrorS.Mean, &ours.Drop.TimeErrorS.Mean, &theirs.Drop.PlaceErrorM.Mean, float64(job.Settings.DropLead.AloneNs()) * 1e-9},
			} {
				t.Logf("%s, lead %.1f ms: outside %.1f ms, %.1f cm late; own %.1f ms", move.name, move.leadS*1e3, *move.theirs*1e3, *move.place*100, *move.ours*1e3)
				if math.Abs(*move.ours) > 0.01 {
					t.Errorf("our own %s are %.1f ms late", move.name, *move.ours*1e3)
				}
				// No lead, the latency, and on average half an interval between
				// positions; some milliseconds on the way.
				least, most := 0.0, 0.02+worstS
				if b.naive {
					least, most = move.leadS+latencyS, move.leadS+latencyS+0.1+worstS
				} else {
					least = -most
				}
				if *move.theirs < least || *move.theirs > most {
					t.Errorf("%s are %.1f ms late; want %.1f to %.1f", move.name, *move.theirs*1e3, least*1e3, most*1e3)
				}
				if want := *move.theirs * straightMps; math.Abs(*move.place-want) > 0.02 {
					t.Errorf("%s are %.3f m late; v·lead is %.3f", move.name, *move.place, want)
				}
			}
			if theirs.Lift.Missed+theirs.Drop.Missed+theirs.Lift.Spurious+theirs.Drop.Spurious > 0 {
				t.Errorf("missed or spurious: %+v, %+v", theirs.Lift, theirs.Drop)
			}
		})
	}
	m := readMetrics(t, filepath.Join(s.dir, "bench.prom"))
	if m[`liftbench_transition_time_error_seconds_count{move="lift",section="1"}`] != 2 {
		t.Errorf("bench.prom counts no errors: %v", len(m))
	}
}

// TestBenchOfTheIdle: a controller that answers and changes nothing, or only when
// all is over, has missed everything.
func TestBenchOfTheIdle(t *testing.T) {
	s := newStraight(t, 2, "auto", "auto", 1_900_000_000e9)
	var log []byte
	for _, e := range s.epochs(t, receiver.Params{}) {
		log = append(log, e.text...)
	}
	s.write(t, "day.nmea", string(log))
	u, err := (&settings.Selection{Machine: s.machine, Field: s.field, Arg: filepath.Join(s.dir, "day.nmea")}).Load()
	if err != nil {
		t.Fatal(err)
	}
	own, err := run.Drive(u, nil, io.Discard, true)
	if err != nil {
		t.Fatal(err)
	}
	state := wire.NewState(2)
	for name, lateNs := range map[string]int64{"changes nothing": 0, "changes something a minute too late": 60e9} {
		o := &loop.Outsider{Heard: run.Heard{Name: name}}
		state.Set(1, lateNs > 0)
		o.Take(&state, own.Reception.LastNs+lateNs, make([]bool, 2))
		out, err := o.Score(u, own, true)
		if err != nil {
			t.Errorf("%s: %v", name, err)
			continue
		}
		if x := &out.Score.Drop; x.Count == 0 || x.Missed != x.Count || x.Spurious != 0 {
			t.Errorf("%s: %+v", name, x)
		}
		for _, f := range report.Files(out) {
			if err := f.Write(io.Discard); err != nil {
				t.Errorf("%s: %s: %v", name, f.Name, err)
			}
		}
		if err := report.WriteBeside(out, io.Discard, own); err != nil {
			t.Error(err)
		}
	}
}

func TestBenchRefuses(t *testing.T) {
	t.Chdir(t.TempDir())
	if err := os.WriteFile("mute.nmea", []byte("$GPGGA,,,,,,0,,,,,,,,*66\n"), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct{ args, want string }{
		{"bench", "bench: expected --to PORT, where the controller hears the receiver"},
		{"bench --to udp:127.0.0.1:9", "--to udp:127.0.0.1:9 carries one way only; expected --from PORT for the setpoints"},
		{"bench --to com3", `--to: port "com3": expected one of -, file:PATH, serial:`},
		{"bench --to tcp:127.0.0.1:9 --against theirs", "--against theirs: expected own"},
		{"bench --to tcp:127.0.0.1:9 --pace -1", "--pace -1: expected more than 0, up to 1e+06 times real time"},
		{"bench --to tcp:127.0.0.1:9 -", "- is taken for a log, as its name does not end in .yaml; expected --machine and --field with it"},
		{"drive --pace 2", "--pace: expected it with --to"},
		{"drive --to tcp:127.0.0.1:9 --out x", "--to plays the drive, --out writes it; expected one of them"},
		{"live --pace 2", "--pace: a receiver sets its own pace; expected it with --in file:LOG"},
		{"live --in file:none.nmea", "none.nmea: no such file; expected a log of NMEA sentences"},
		{"live --in file:mute.nmea", "mute.nmea: no position: no GGA, GNS, RMC or GLL sentence with a good checksum"},
		{"live --in file:mute.nmea --record x", "--record: a log is recorded already; expected it with a receiver"},
		{"live --record no/where", "no/where: folder no: no such file or directory; expected one that is there"},
		{"live --out wav=-", "--out wav=-: form \"wav\"; expected json, line or candump"},
		{"live --out json=can:can0", "--out json=can:can0: a CAN interface takes candump only"},
		{"live --out udp-listen::0", "udp-listen::0: cannot be used for output"},
		{"live --http :0", "--http: HTTP address \":0\" is reached from other machines; expected a token with it"},
		{"live --http 127.0.0.1:0 --http-token-file none", "none: no such file; expected a file with the HTTP token"},
		{"live --http 127.0.0.1:0 --http-token-file .", ".: is a directory; expected a file with the HTTP token"},
		{"live --http-token-file x", "--http-token-file: expected it with --http"},
		{"live mute.nmea", "--in file:mute.nmea takes a log; expected a scenario file, whose name ends in .yaml"},
	} {
		status, _, stderr := command("", strings.Fields(c.args)...)
		if status != 2 || !strings.Contains(stderr, "liftbench: "+c.want) {
			t.Errorf("%s: exit status %d, %q, want %q", c.args, status, stderr, c.want)
		}
	}
}
