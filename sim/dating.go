// Dates for the epochs that came before the first sentence with a date.

package sim

import "liftbench/nmea"

const dayNs = 86_400_000_000_000

// dating holds epochs back until their date is known. Receivers that start
// cold, and logs that begin in mid-epoch, give the time of day first.
type dating struct {
	held []nmea.Fix
	done bool // a date is known
}

// add hands the fix on to use, once dated, after those that waited for it.
func (d *dating) add(f nmea.Fix, use func(*nmea.Fix)) {
	if !f.Dated && !d.done {
		d.held = append(d.held, f)
		return
	}
	if f.Dated && !d.done {
		d.done = true
		if n := len(d.held); n > 0 {
			days := (f.TimeNs - d.held[n-1].TimeNs) / dayNs
			for i := range d.held {
				d.held[i].TimeNs += days * dayNs
				d.held[i].Dated = true
			}
		}
		d.flush(use)
	}
	use(&f)
}

// flush hands on what still waits: at the end of a log without any date, times
// count from the midnight before its first fix.
func (d *dating) flush(use func(*nmea.Fix)) {
	for i := range d.held {
		use(&d.held[i])
	}
	d.held = nil
}
