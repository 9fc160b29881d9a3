// Package write writes a day as ISO 11783-10 task data: TASKDATA.XML with the field,
// the machine and the task, and a time log of positions and work states.
package write

import (
	"archive/zip"
	"encoding/xml"
	"fmt"
	"io"
	"math"

	"liftbench/nmea"
	"liftbench/replay/taskdata"
	"liftbench/replay/taskdata/device"
	"liftbench/sections"
)

// Day is what is written.
type Day struct {
	// Zones and Guides are of the field; its area is told as AreaM2.
	Zones  []taskdata.Zone
	Guides []taskdata.Guide
	AreaM2 float64
	// Machine is where the sections and the antenna are, at most sections.MaxSections from
	// left to right; places are rounded to mm. With Tractor "" there is no tractor and no antenna.
	Machine device.Geometry
	// Fixes must have dates and be in order of time, which is rounded to ms.
	Fixes []nmea.Fix
	// Setpoint and Actual are states and changes in order of time, rounded to ms. What comes
	// first of a section is its first state.
	Setpoint, Actual []sections.WorkChange
	// OffsetNs is UTC less the terminal's clock: -2 h in a European summer, for rows hold local
	// time.
	OffsetNs int64
}

// File is one file of a set.
type File struct {
	Name string
	Data []byte
}

// Zip writes the set as a zip, its files below TASKDATA.
func Zip(w io.Writer, d *Day) error {
	files, err := Files(d)
	if err != nil {
		return err
	}
	z := zip.NewWriter(w)
	for _, f := range files {
		// Without a time of its own, so that the same day makes the same bytes.
		in, err := z.CreateHeader(&zip.FileHeader{Name: "TASKDATA/" + f.Name, Method: zip.Deflate})
		if err != nil {
			return err
		}
		if _, err := in.Write(f.Data); err != nil {
			return err
		}
	}
	return z.Close()
}

// Files returns the files of the set. It is an error if there are no fixes, if one has no date, if times
// go back, or if sections are too many or not those of the changes.
func Files(d *Day) ([]File, error) {
	if err := d.check(); err != nil {
		return nil, err
	}
	rows, err := d.rows()
	if err != nil {
		return nil, err
	}
	files := make([]File, 0, 3)
	for _, f := range []struct {
		name string
		root any
	}{{"TASKDATA.XML", d.root()}, {"TLG00001.xml", d.header()}} {
		text, err := xml.MarshalIndent(f.root, "", " ")
		if err != nil {
			return nil, err
		}
		files = append(files, File{f.name, append([]byte(xml.Header), text...)})
	}
	return append(files, File{"TLG00001.bin", rows}), nil
}

func (d *Day) check() error {
	n := len(d.Machine.Sections)
	switch {
	case len(d.Fixes) == 0:
		return fmt.Errorf("no fixes; expected one at least")
	case n == 0 || n > device.MaxSections:
		return fmt.Errorf("%d sections; expected 1 to %d", n, device.MaxSections)
	}
	for k := range d.Fixes {
		f := &d.Fixes[k]
		switch {
		case !f.Dated:
			return fmt.Errorf("fix %d has no date; expected one, as of RMC or ZDA", k+1)
		case k > 0 && f.TimeNs < d.Fixes[k-1].TimeNs:
			return fmt.Errorf("fix %d is older than the one before", k+1)
		}
	}
	for _, list := range [][]sections.WorkChange{d.Setpoint, d.Actual} {
		for k, c := range list {
			switch {
			case int(c.Section) >= n || c.Section < 0:
				return fmt.Errorf("a change of section %d; expected 1 to %d", c.Section+1, n)
			case k > 0 && c.TimeNs < list[k-1].TimeNs:
				return fmt.Errorf("change %d is older than the one before", k+1)
			}
		}
	}
	return nil
}

// mm rounds metres.
func mm(m float64) int { return int(math.Round(m * 1000)) }
