package timezone

import (
	"archive/zip"
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"flag"
	"io"
	"os"
	"os/exec"
	"path/filepath"
	"sort"
	"strings"
	"testing"
	"time"
)

var update = flag.Bool("update", false, "pack the time zones of this Go anew")

// TestPackedZones: every zone that comes with Go is packed, and tells the same time every
// five and a half days from 2000 to 2026. Later rules change.
func TestPackedZones(t *testing.T) {
	root, err := exec.Command("go", "env", "GOROOT").Output()
	if err != nil {
		t.Fatal(err)
	}
	z, err := zip.OpenReader(filepath.Join(strings.TrimSpace(string(root)), "lib", "time", "zoneinfo.zip"))
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	data, names := map[string]string{}, map[string][]string{}
	for _, f := range z.File {
		if strings.HasSuffix(f.Name, "/") {
			continue
		}
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		b, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		data[f.Name] = string(b)
		names[string(b)] = append(names[string(b)], f.Name)
	}
	if *update {
		var different []string
		for d := range names {
			sort.Strings(names[d])
			different = append(different, d)
		}
		sort.Strings(different)
		var packed bytes.Buffer
		w, _ := gzip.NewWriterLevel(&packed, gzip.BestCompression)
		for _, d := range different {
			io.WriteString(w, strings.Join(names[d], " ")+"\n")
			w.Write(binary.BigEndian.AppendUint16(nil, uint16(len(d))))
			io.WriteString(w, d)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile("zones.gz", packed.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
		zoneData = packed.Bytes()
	}
	if len(data) < 500 {
		t.Fatalf("%d zones come with Go; expected some 600", len(data))
	}
	for name, d := range data {
		want, err := time.LoadLocationFromTZData(name, []byte(d))
		if err != nil {
			t.Fatal(err)
		}
		got, ok := packedZone(name)
		if !ok {
			t.Errorf("%s is not packed; expected go test ./cmd/liftbench/settings/timezone -run PackedZones -update", name)
			continue
		}
		for at := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC); at.Year() < 2026; at = at.Add(5*24*time.Hour + 12*time.Hour) {
			if a, b := at.In(got).Format(time.RFC3339), at.In(want).Format(time.RFC3339); a != b {
				t.Errorf("%s: %s; expected %s", name, a, b)
				break
			}
		}
	}
	for _, name := range []string{"", "Local", "Europe/Erlangen", "Europe/Berlin Europe/Paris", "../zones"} {
		if zone, ok := packedZone(name); ok {
			t.Errorf("%q is %s", name, zone)
		}
	}
}
