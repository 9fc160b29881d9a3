// Dates for the epochs that came before the first sentence with a date.

package epoch

import "liftbench/nmea"

// Dating holds fixes back until their date is known, then passes them on in
// order. A receiver that starts cold gives the time of day first, and so does a
// log that begins within an epoch. The zero value is ready to use.
//
// If no date comes within ten seconds, the day is taken from the arrival times,
// where there are any: it is the day that puts the fix nearest to its arrival.
// Some receivers are set up to send no date at all.
type Dating struct {
	held    []nmea.Fix
	known   bool  // the day is known
	shiftNs int64 // what is added to the time of undated fixes
	byHost  bool  // the day is that of the arrival times
	lastNs  int64
	fix     nmea.Fix // the one being passed on; kept here so that none is allocated
}

// dateWaitNs is how long Dating waits for a date.
const dateWaitNs = 10 * nsPerSecond

// Add calls use with each fix whose date is now known, in order: those that
// were held back, then f. The fix is valid only during the call.
func (d *Dating) Add(f nmea.Fix, use func(*nmea.Fix)) {
	if !d.known {
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
		d.known = true
		d.Flush(use)
		if !f.Dated {
			return
		}
	}
	d.fix = f
	if d.byHost {
		d.dateByHost(&d.fix)
	}
	use(&d.fix)
}

// dateByHost gives a fix the day by the host's clock. A date that the receiver
// sends later either confirms it or comes from a wrong clock; in both cases days
// continue as they were counted, so that time does not jump.
func (d *Dating) dateByHost(f *nmea.Fix) {
	if f.Dated {
		f.TimeNs += wholeDays(d.lastNs - f.TimeNs)
	} else {
		f.TimeNs += d.shiftNs
		f.Dated = true
	}
	d.lastNs = f.TimeNs
}

// Flush calls use with each fix that is still held back. At the end of a stream
// without any date their times count from the midnight before the first fix.
func (d *Dating) Flush(use func(*nmea.Fix)) {
	for i := range d.held {
		f := &d.held[i]
		if d.known {
			f.TimeNs += d.shiftNs
			f.Dated = true
			d.lastNs = f.TimeNs
		}
		use(f)
	}
	d.held = nil
}

// wholeDays rounds to the nearest whole day, in nanoseconds.
func wholeDays(ns int64) int64 {
	if ns < 0 {
		return -wholeDays(-ns)
	}
	return (ns + nsPerDay/2) / nsPerDay * nsPerDay
}
