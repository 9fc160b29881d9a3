// Dates for the epochs that came before the first sentence with a date.

package epoch

import "liftbench/nmea"

// Dating holds epochs back until their date is known. Receivers that start
// cold, and logs that begin in mid-epoch, give the time of day first. The zero
// value is ready.
//
// Where no date comes within ten seconds the day is taken from the arrival
// times, if there are any: the one that brings the epoch nearest to its
// arrival. Some receivers are set to say no date at all.
type Dating struct {
	held    []nmea.Fix
	done    bool  // a date is known
	shiftNs int64 // from the assembler's days to those of the host's clock
	byHost  bool
	lastNs  int64
	now     nmea.Fix // the one being handed on: here, so that none is allocated
}

// dateWaitNs is how long a date is waited for.
const dateWaitNs = 10e9

// Add hands the fix on to use, once dated, after those that waited for it.
func (d *Dating) Add(f nmea.Fix, use func(*nmea.Fix)) {
	if !d.done {
		if !f.Dated {
			d.held = append(d.held, f)
			if f.ReadyNs == 0 || f.TimeNs-d.held[0].TimeNs < dateWaitNs {
				return
			}
			d.byHost = true
			d.shiftNs = wholeDays(f.ReadyNs - f.TimeNs)
		} else if n := len(d.held); n > 0 {
			d.shiftNs = wholeDays(f.TimeNs - d.held[n-1].TimeNs)
		}
		d.done = true
		d.Flush(use)
		if !f.Dated {
			return
		}
	}
	d.now = f
	if d.byHost {
		d.shift(&d.now)
	}
	use(&d.now)
}

// shift dates a fix by the host's clock. A date that comes later after all
// only confirms it, or is of another day, by a clock that is wrong: then days
// go on as they were counted, so that time does not jump.
func (d *Dating) shift(f *nmea.Fix) {
	if f.Dated {
		f.TimeNs += wholeDays(d.lastNs - f.TimeNs)
	} else {
		f.TimeNs += d.shiftNs
		f.Dated = true
	}
	d.lastNs = f.TimeNs
}

// wholeDays rounds to the nearest whole day.
func wholeDays(ns int64) int64 {
	if ns < 0 {
		return -wholeDays(-ns)
	}
	return (ns + nsPerDay/2) / nsPerDay * nsPerDay
}

// Flush hands on what still waits: at the end of a log without any date, times
// count from the midnight before its first fix.
func (d *Dating) Flush(use func(*nmea.Fix)) {
	for i := range d.held {
		f := &d.held[i]
		if d.done {
			f.TimeNs += d.shiftNs
			f.Dated = true
			d.lastNs = f.TimeNs
		}
		use(f)
	}
	d.held = nil
}

// ReadAsLive has the reader end an epoch as soon as it is complete where the log has
// arrival times, as a controller on the machine must, and only when the next
// begins where it has none: then nothing is lost that comes late.
func (r *Reader) ReadAsLive() {
	each := r.Each
	r.Each = func(raw []byte, s *nmea.Sentence, err error) {
		r.Assembler.Live = s.ArrivalNs != 0
		if each != nil {
			each(raw, s, err)
		}
	}
}
