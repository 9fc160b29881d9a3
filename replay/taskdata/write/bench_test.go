package write_test

import (
	"archive/zip"
	"bytes"
	"encoding/binary"
	"io"
	"math"
	"testing"

	"liftbench/nmea"
	"liftbench/replay/taskdata"
	"liftbench/replay/taskdata/device"
	"liftbench/replay/taskdata/write"
	"liftbench/sections"
)

// tenHours is a day of 10 h at 10 Hz with 24 sections, as a zip: up and down a field, with a change of every section each
// minute.
func tenHours(tb testing.TB) []byte {
	tb.Helper()
	d := &write.Day{Machine: device.Geometry{Tractor: "DVC-1", AntennaKnown: true, AntennaXM: 1, SetpointDelayMs: -1, ActualDelayMs: -1}}
	for k := range 24 {
		d.Machine.Sections = append(d.Machine.Sections, device.At{XM: -2, YM: float64(k) - 11.5, WidthM: 1})
	}
	f := nmea.EmptyFix()
	f.Dated, f.Quality, f.HeightM = true, nmea.RTKFixed, 100
	const start = int64(1_700_000_000e9)
	for k := range 360_000 {
		f.TimeNs = start + int64(k)*100e6
		f.LatDeg, f.LonDeg = 52+2e-3*math.Sin(float64(k)/600), 8+float64(k)*1e-8
		d.Fixes = append(d.Fixes, f)
		if k%600 < 24 {
			w := sections.WorkChange{TimeNs: f.TimeNs, Section: int16(k % 600), On: k/600%2 == 0}
			d.Setpoint, d.Actual = append(d.Setpoint, w), append(d.Actual, w)
		}
	}
	var b bytes.Buffer
	if err := write.Zip(&b, d); err != nil {
		tb.Fatal(err)
	}
	return b.Bytes()
}

// Reading such a day, from zip to fixes and states, beside encoding/binary decoding the same rows into a struct and
// beside unpacking alone.
func BenchmarkTenHours(b *testing.B) {
	data := tenHours(b)
	b.Run("taskdata", func(b *testing.B) {
		b.ReportAllocs()
		for b.Loop() {
			s, err := taskdata.OpenZip(bytes.NewReader(data), int64(len(data)), "")
			if err != nil {
				b.Fatal(err)
			}
			d, err := s.Day(taskdata.Options{})
			if err != nil || len(d.Fixes) != 360_000 || len(d.Actual.Changes) != 14_376 {
				b.Fatal(err, len(d.Fixes), len(d.Actual.Changes))
			}
		}
	})
	b.Run("encoding-binary", func(b *testing.B) {
		for b.Loop() {
			r := bytes.NewReader(unpacked(b, data))
			var row struct {
				Ms       uint32
				Day      uint16
				N, E, Up int32
				Status   uint8
				HDOP     uint16
				Sats     uint8
				GPSMs    uint32
				GPSDay   uint16
				Columns  uint8
			}
			var value struct {
				Column uint8
				Value  int32
			}
			for binary.Read(r, binary.LittleEndian, &row) == nil {
				for range row.Columns {
					binary.Read(r, binary.LittleEndian, &value)
				}
			}
		}
	})
	b.Run("unpack", func(b *testing.B) {
		for b.Loop() {
			unpacked(b, data)
		}
	})
}

func unpacked(b *testing.B, data []byte) []byte {
	z, err := zip.NewReader(bytes.NewReader(data), int64(len(data)))
	if err != nil {
		b.Fatal(err)
	}
	f, err := z.Open("TASKDATA/TLG00001.bin")
	if err != nil {
		b.Fatal(err)
	}
	rows, err := io.ReadAll(f)
	if err != nil {
		b.Fatal(err)
	}
	return rows
}
