// How long run takes for a long day, and how much memory.

package main

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"testing"
)

// The whole of run, from a file's bytes to its score, over a working day of 24
// sections at 10 Hz, and over its first half: time is linear in log length.
func BenchmarkRunTenHours(b *testing.B) {
	const dir = "../../testdata/ten-hours/"
	log := filepath.Join(b.TempDir(), "day.nmea")
	if status := execute([]string{"drive", "--out", log, dir + "scenario.yaml"}, nil, io.Discard, io.Discard); status != 0 {
		b.Fatalf("drive ended with status %d", status)
	}
	whole, err := os.ReadFile(log)
	if err != nil {
		b.Fatal(err)
	}
	half := whole[:bytes.LastIndexByte(whole[:len(whole)/2], '\n')+1]
	for _, bm := range []struct {
		name  string
		bytes []byte
	}{{"whole", whole}, {"half", half}} {
		b.Run(bm.name, func(b *testing.B) {
			if err := os.WriteFile(log, bm.bytes, 0o644); err != nil {
				b.Fatal(err)
			}
			b.SetBytes(int64(len(bm.bytes)))
			b.ReportAllocs()
			for b.Loop() {
				var stderr bytes.Buffer
				if status := execute([]string{"run", "--machine", dir + "machine.yaml", "--field", dir + "field.geojson",
					"--headland", "24", "--row-bearing", "0", log}, nil, io.Discard, &stderr); status != 0 {
					b.Fatalf("run ended with status %d: %s", status, stderr.String())
				}
			}
		})
	}
}
