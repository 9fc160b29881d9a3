// Stray dates and times: a receiver that tells a wrong one, and sentences that
// are damaged and pass their checksum all the same.

package main

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/report"
	"liftbench/nmea"
	"liftbench/nmea/epoch"
	"liftbench/sim/campaign"
)

// strayLog is the demo's drive, line by line.
func strayLog(t *testing.T) (dir string, lines []string) {
	t.Helper()
	dir = t.TempDir()
	t.Chdir(dir)
	for _, args := range []string{"check --write-demo .", "drive --out day.nmea"} {
		if status, _, stderr := command("", strings.Fields(args)...); status != 0 {
			t.Fatal(stderr)
		}
	}
	data, err := os.ReadFile("day.nmea")
	if err != nil {
		t.Fatal(err)
	}
	return dir, strings.SplitAfter(strings.TrimSuffix(string(data), "\n"), "\n")
}

// summed gives a sentence its checksum anew.
func summed(sentence string) string {
	body, _, _ := strings.Cut(strings.TrimPrefix(strings.TrimSpace(sentence), "$"), "*")
	sum := byte(0)
	for i := range len(body) {
		sum ^= body[i]
	}
	return fmt.Sprintf("$%s*%02X\r\n", body, sum)
}

// rmcField changes one field of a line that is an RMC: 1 time, 2 status, 9
// date; it returns other lines as they are.
func rmcField(line string, change func(f []string)) string {
	at := strings.IndexByte(line, '$')
	if at < 0 || !strings.HasPrefix(line[at+3:], "RMC,") {
		return line
	}
	body, _, _ := strings.Cut(line[at:], "*")
	f := strings.Split(body, ",")
	change(f)
	return line[:at] + summed(strings.Join(f, ","))
}

// yearOn and dayOn are a date, ddmmyy, so much later; the demo's is no last of
// a month.
func yearOn(ddmmyy string, years int) string {
	var d, y int
	fmt.Sscanf(ddmmyy[:4], "%d", &d)
	fmt.Sscanf(ddmmyy[4:], "%d", &y)
	return fmt.Sprintf("%s%02d", ddmmyy[:4], y+years)
}

func dayOn(ddmmyy string) string {
	var d int
	fmt.Sscanf(ddmmyy[:2], "%d", &d)
	return fmt.Sprintf("%02d%s", d+1, ddmmyy[2:])
}

// nthRMC returns the index of the nth RMC of a log.
func nthRMC(lines []string, n int) int {
	for i, l := range lines {
		if strings.Contains(l, "RMC,") {
			if n == 0 {
				return i
			}
			n--
		}
	}
	return -1
}

// flipBits flips a bit in one byte of so many, each by its own chance.
func flipBits(text string, rate float64, seed uint64) string {
	b := []byte(text)
	rng := rand.New(rand.NewPCG(seed, 7))
	for i := range b {
		if rng.Float64() < rate {
			b[i] ^= 1 << rng.IntN(8)
		}
	}
	return string(b)
}

// strays are the faults of one log, with how many of its epochs are lost at
// most. A wrong date loses none; a wrong time its own, where other sentences of
// the epoch do not have the right one.
var strays = []struct {
	name   string
	alter  func(lines []string) string
	most   int64
	counts report.TimeCounts // at least
	wrong  bool              // summary.json has no times
}{
	{name: "all well", alter: func(l []string) string { return strings.Join(l, "") }, wrong: true},
	{
		name: "a void RMC dated a year ahead, in mid-log", wrong: true,
		alter: func(l []string) string {
			i := nthRMC(l, 14657)
			l[i] = rmcField(l[i], func(f []string) { f[2], f[9], f[12] = "V", yearOn(f[9], 1), "N" })
			return strings.Join(l, "")
		},
	},
	{
		name: "a void RMC dated a year ahead, at the head", wrong: true,
		alter: func(l []string) string {
			i := nthRMC(l, 0)
			l[i] = rmcField(l[i], func(f []string) { f[2], f[9], f[12] = "V", yearOn(f[9], 1), "N" })
			return strings.Join(l, "")
		},
	},
	{
		name: "one wrong digit in the date of a valid RMC", counts: report.TimeCounts{WrongDates: 1},
		alter: func(l []string) string {
			i := nthRMC(l, 14657)
			l[i] = rmcField(l[i], func(f []string) { f[9] = yearOn(f[9], 10) })
			return strings.Join(l, "")
		},
	},
	{
		name: "one wrong digit in the time of a valid RMC", counts: report.TimeCounts{NotBelieved: 1},
		alter: func(l []string) string {
			i := nthRMC(l, 14657)
			l[i] = rmcField(l[i], func(f []string) { f[1] = f[1][:1] + string(f[1][1]^1) + f[1][2:] })
			return strings.Join(l, "")
		},
	},
	{
		name: "ten epochs a day ahead at the head", counts: report.TimeCounts{ClockSets: 1},
		alter: func(l []string) string {
			for k := range 10 {
				i := nthRMC(l, k)
				l[i] = rmcField(l[i], func(f []string) { f[9] = dayOn(f[9]) })
			}
			return strings.Join(l, "")
		},
	},
	{
		name: "a day ahead from the middle on", counts: report.TimeCounts{ClockSets: 1},
		alter: func(l []string) string {
			n := 0
			for i := range l {
				if strings.Contains(l[i], "RMC,") {
					if n++; n > 14657 {
						l[i] = rmcField(l[i], func(f []string) { f[9] = dayOn(f[9]) })
					}
				}
			}
			return strings.Join(l, "")
		},
	},
}

// TestStray: a wrong date or time takes no more of a log than itself, in run and
// in live, and the figures are those of the sound log.
func TestStray(t *testing.T) {
	_, lines := strayLog(t)
	type figures struct {
		Fixes     int64
		Times     *report.TimeCounts
		DurationS float64 `json:"duration_s"`
		DistanceM float64 `json:"distance_m"`
		Lift      struct{ Count, Paired, Missed int }
		Drop      struct{ Count, Paired, Missed int }
	}
	var sound figures
	setpoints := 0
	for _, c := range strays {
		t.Run(c.name, func(t *testing.T) {
			name := filepath.Join(t.TempDir(), "day.nmea")
			if err := os.WriteFile(name, []byte(c.alter(append([]string(nil), lines...))), 0o644); err != nil {
				t.Fatal(err)
			}
			out := filepath.Join(filepath.Dir(name), "out")
			status, stdout, stderr := command("", "run", "--machine", "machine.yaml", "--field", "field.geojson", "--out", out, name)
			if status != 0 {
				t.Fatal(stderr)
			}
			data, err := os.ReadFile(filepath.Join(out, "summary.json"))
			if err != nil {
				t.Fatal(err)
			}
			var got figures
			if err := json.Unmarshal(data, &got); err != nil {
				t.Fatal(err)
			}
			status, live, stderr := command("", "live", "--machine", "machine.yaml", "--field", "field.geojson", "--in", "file:"+name, "--pace", "10000")
			if status != 0 {
				t.Fatal(stderr)
			}
			commands := strings.Count(live, "\n")
			if c.name == "all well" {
				sound, setpoints = got, commands
			}
			t.Logf("run: %d of %d epochs, %.1f s, %.3f km, lifts %d of %d paired, times %+v; live: %d of %d setpoints",
				got.Fixes, sound.Fixes, got.DurationS, got.DistanceM/1000, got.Lift.Paired, got.Lift.Count, got.Times, commands, setpoints)
			if (got.Times == nil) != c.wrong || got.Times != nil != strings.Contains(stdout, "clock set ") {
				t.Errorf("times %+v in summary.json, and in the table:\n%s", got.Times, stdout)
			} else if x := got.Times; x != nil && (x.WrongDates < c.counts.WrongDates || x.NotBelieved < c.counts.NotBelieved || x.ClockSets != c.counts.ClockSets) {
				t.Errorf("times %+v; want at least %+v", *x, c.counts)
			}
			// A void sentence takes the position of its epoch away.
			if lost := sound.Fixes - got.Fixes; lost > c.most && !(c.wrong && lost == 1) {
				t.Errorf("%d epochs lost; want at most %d", lost, c.most)
			}
			if got.DurationS-sound.DurationS > 0.11 || sound.DurationS-got.DurationS > 0.11 || got.Lift.Paired != sound.Lift.Paired || got.Drop.Paired != sound.Drop.Paired {
				t.Errorf("%+v; want the figures of the sound log, %+v", got, sound)
			}
			if commands != setpoints {
				t.Errorf("%d setpoints live; want %d", commands, setpoints)
			}
		})
	}
}

// TestStrayBits: of logs in which single bits are wrong, in one byte of a
// thousand and in three, no more than 0.5 % of the epochs are lost beside those
// of which no position came through. Some sentences hold two wrong bits and pass
// their checksum.
func TestStrayBits(t *testing.T) {
	_, lines := strayLog(t)
	text := strings.Join(lines, "")
	logs := campaign.Times(4, 4, 30)
	total := epochsOf(t, text).Fixes
	for _, rate := range []float64{1e-3, 3e-3} {
		t.Run(fmt.Sprint(rate), func(t *testing.T) {
			var worst int64
			bad := 0
			for k := range logs {
				damaged := flipBits(text, rate, uint64(k+1))
				c := epochsOf(t, damaged)
				heard := heardEpochs(damaged)
				lost := heard - c.Fixes
				if 50*(total-c.Fixes) > total {
					bad++
				}
				worst = max(worst, lost)
				if 200*lost > total {
					t.Errorf("log %d: %d of %d epochs, %d heard; %+v", k+1, c.Fixes, total, heard, c)
				}
			}
			t.Logf("%d logs: at worst %d of %d epochs lost beside those not heard; %d logs lost more than 2 %% in all", logs, worst, total, bad)
		})
	}
}

func epochsOf(t *testing.T, log string) epoch.Counts {
	t.Helper()
	rd := epoch.NewReader(strings.NewReader(log))
	rd.ReadAsLive()
	var dates epoch.Dating
	for rd.Next() {
		dates.Add(rd.Fix(), func(*nmea.Fix) {})
	}
	if err := rd.Err(); err != nil {
		t.Fatal(err)
	}
	return rd.Counts().Epochs
}

// heardEpochs counts the times of day of which a GGA or RMC has a good checksum,
// in the order they come, each once.
func heardEpochs(log string) (n int64) {
	seen := map[string]bool{}
	for line := range bytes.Lines([]byte(log)) {
		at := bytes.IndexByte(line, '$')
		if at < 0 || at+7 > len(line) || !bytes.Contains([]byte("GGA,RMC,"), line[at+3:at+7]) {
			continue
		}
		if !bytes.Equal(bytes.TrimSpace(line[at:]), bytes.TrimSpace([]byte(summed(string(line[at:]))))) {
			continue
		}
		f := bytes.SplitN(line[at:], []byte(","), 3)
		if !seen[string(f[1])] {
			seen[string(f[1])] = true
			n++
		}
	}
	return n
}
