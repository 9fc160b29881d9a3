// Days for receivers that say none.

package epoch

import (
	"testing"
	"time"

	"liftbench/nmea"
)

// TestDatingByArrival: a receiver that says no date gets the day from the host's
// clock: the one that brings the epoch nearest to its arrival, over midnight
// and with a clock that is hours off. A date that comes later after all does
// not make time jump.
func TestDatingByArrival(t *testing.T) {
	day := time.Date(2031, 5, 11, 0, 0, 0, 0, time.UTC)
	at := func(clock string) int64 {
		d, err := time.Parse(time.TimeOnly, clock)
		if err != nil {
			t.Fatal(err)
		}
		return int64(d.Sub(time.Date(0, 1, 1, 0, 0, 0, 0, time.UTC)))
	}
	for _, c := range []struct {
		name    string
		first   string        // time of day of the first epoch, by the receiver
		host    time.Duration // what the host's clock is ahead
		arrival bool
		dated   time.Duration // after how long a date comes; 0 = never
		dateIs  int           // and which, in days after the true one
		want    time.Time     // of the first epoch
		held    time.Duration // how long epochs are held back
	}{
		{"clocks agree", "08:00:00", 50 * time.Millisecond, true, 0, 0, day.Add(8 * time.Hour), 10 * time.Second},
		{"host eleven hours ahead", "08:00:00", 11 * time.Hour, true, 0, 0, day.Add(8 * time.Hour), 10 * time.Second},
		{"host eleven hours behind", "08:00:00", -11 * time.Hour, true, 0, 0, day.Add(8 * time.Hour), 10 * time.Second},
		{"just before midnight, host just after", "23:59:58", 5 * time.Second, true, 0, 0, day.Add(24*time.Hour - 2*time.Second), 10 * time.Second},
		{"just after midnight, host just before", "00:00:01", -5 * time.Second, true, 0, 0, day.Add(time.Second), 10 * time.Second},
		{"a date in time", "08:00:00", 5 * time.Hour, true, 3 * time.Second, 0, day.Add(8 * time.Hour), 3 * time.Second},
		{"a date later confirms", "08:00:00", 0, true, 20 * time.Second, 0, day.Add(8 * time.Hour), 10 * time.Second},
		{"a date later is of another day", "08:00:00", 0, true, 20 * time.Second, 7, day.Add(8 * time.Hour), 10 * time.Second},
		{"no arrival times and no date", "08:00:00", 0, false, 0, 0, time.Unix(0, at("08:00:00")).UTC(), time.Minute},
	} {
		t.Run(c.name, func(t *testing.T) {
			var d Dating
			var got []int64
			use := func(f *nmea.Fix) {
				if c.arrival && !f.Dated {
					t.Errorf("epoch %d is not dated", len(got))
				}
				got = append(got, f.TimeNs)
			}
			const stepNs = 100e6
			for i := range 600 {
				// By the assembler: days since the midnight before the first, or
				// the true ones once dated.
				f := nmea.EmptyFix()
				elapsed := time.Duration(i) * stepNs
				f.TimeNs = at(c.first) + int64(elapsed)
				if c.arrival {
					f.ArrivalNs = day.UnixNano() + f.TimeNs + int64(c.host)
					f.ReadyNs = f.ArrivalNs + 5e6
				}
				if f.Dated = c.dated != 0 && elapsed >= c.dated; f.Dated {
					f.TimeNs += day.AddDate(0, 0, c.dateIs).UnixNano()
				}
				before := len(got)
				d.Add(f, use)
				if before == 0 && len(got) > 0 && elapsed != c.held {
					t.Errorf("the first epoch comes out after %s, want %s", elapsed, c.held)
				}
			}
			d.Flush(use)
			if len(got) != 600 {
				t.Fatalf("%d epochs of 600", len(got))
			}
			for i, ns := range got {
				if want := c.want.UnixNano() + int64(i)*stepNs; ns != want {
					t.Fatalf("epoch %d is of %s, want %s", i, time.Unix(0, ns).UTC(), time.Unix(0, want).UTC())
				}
			}
		})
	}
}
