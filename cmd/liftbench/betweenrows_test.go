package main

import (
	"encoding/csv"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"
)

// TestUnitsBetweenRows: units between rows put the borders of sections onto crop rows, half a row off those of units on
// rows, so that at a border that slants by α a section lifts half a row · tan α sooner or later. Under crop-first, and
// driving towards a border that recedes to the right, a section's left edge decides; the edges here are counted by
// hand, in rows of 0.5 m from the middle.
func TestUnitsBetweenRows(t *testing.T) {
	const (
		slant    = 20.0 // degrees, of the file's north border
		withinM  = 1e-3
		speedMps = 8 / 3.6
	)
	machine, err := os.ReadFile("../../testdata/between-rows/machine.yaml")
	if err != nil {
		t.Fatal(err)
	}
	onRows := strings.NewReplacer("units: between rows", "units: on rows", "[3, 2, 3, 2, 3]", "[3, 2, 3, 2, 2]").Replace(string(machine))
	path := filepath.Join(t.TempDir(), "on-rows.yaml")
	if err := os.WriteFile(path, []byte(onRows), 0o644); err != nil {
		t.Fatal(err)
	}
	for _, c := range []struct {
		file   string
		edgesM []float64 // left edge of each section
	}{
		{"../../testdata/between-rows/machine.yaml", []float64{-3, -1.75, -0.75, 0.75, 1.75}}, // the outer unit is 0.25 m wide
		{path, []float64{-3, -1.5, -0.5, 1, 2}},
	} {
		out := t.TempDir()
		if status, _, stderr := command("", "run", "--machine", c.file, "--out", out, "../../testdata/between-rows/scenario.yaml"); status != 0 {
			t.Fatal(stderr)
		}
		f, err := os.Open(filepath.Join(out, "events.csv"))
		if err != nil {
			t.Fatal(err)
		}
		rows, err := csv.NewReader(f).ReadAll()
		f.Close()
		if err != nil {
			t.Fatal(err)
		}
		value := func(row []string, name string) string {
			for i, n := range rows[0] {
				if n == name {
					return row[i]
				}
			}
			t.Fatalf("no column %s in %v", name, rows[0])
			return ""
		}
		var ideal time.Time // of section 1 on this pass
		compared := 0
		for _, row := range rows[1:] {
			heading, _ := strconv.ParseFloat(value(row, "heading_deg"), 64)
			section, _ := strconv.Atoi(value(row, "section"))
			if value(row, "move") != "lift" || math.Min(heading, 360-heading) > 1 {
				continue
			}
			at, err := time.Parse(time.RFC3339Nano, value(row, "ideal_time"))
			if err != nil {
				t.Fatal(err)
			}
			if section == 1 {
				ideal = at
			}
			want := (c.edgesM[section-1] - c.edgesM[0]) * math.Tan(slant*math.Pi/180)
			if gotM := at.Sub(ideal).Seconds() * speedMps; math.Abs(gotM-want) > withinM {
				t.Errorf("%s: section %d lifts %.4f m after section 1; want %.4f", filepath.Base(c.file), section, gotM, want)
			}
			compared++
		}
		if compared != 20 {
			t.Errorf("%s: %d lifts compared; want 5 of each of four passes", filepath.Base(c.file), compared)
		}
	}
}
