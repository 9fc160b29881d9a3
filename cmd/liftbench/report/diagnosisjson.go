// diagnosis.json: the answer for programs.

package report

import (
	"encoding/json"
	"io"

	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/diagnose"
)

// WriteDiagnosisJSON writes the diagnosis: SI, positive = late, null where the data
// cannot tell.
func WriteDiagnosisJSON(d *run.Diagnosis, w io.Writer) error {
	x := *d.Diagnosis
	// A list without entries is an empty list, not null.
	x.Causes = append([]diagnose.Finding{}, x.Causes...)
	x.CannotTell = append([]diagnose.Doubt{}, x.CannotTell...)
	x.Floors = append([]diagnose.Floor{}, x.Floors...)
	x.Lift, x.Drop = roundedFit(x.Lift), roundedFit(x.Drop)
	for i := range x.Causes {
		c := &x.Causes[i]
		c.DriftS = wording.RoundTo(c.DriftS, summaryStep)
		c.Size, c.CI95 = wording.RoundTo(c.Size, summaryStep), *roundedInterval(&c.CI95)
	}
	for i := range x.Floors {
		x.Floors[i].Size = roundedSize(x.Floors[i].Size)
	}
	enc := json.NewEncoder(w)
	enc.SetEscapeHTML(false)
	enc.SetIndent("", "  ")
	answer := struct {
		Suspicion string `json:"suspicion,omitempty"` // what is most likely wrong with the input
		*diagnose.Diagnosis
	}{Diagnosis: &x}
	if d.Suspicion != nil {
		answer.Suspicion = d.Suspicion.Text
	}
	return enc.Encode(&answer)
}

// roundedFit returns f with its figures rounded, sharing nothing with it.
func roundedFit(f diagnose.Fit) diagnose.Fit {
	f.TimeErrorS, f.TimeErrorCI = roundedSize(f.TimeErrorS), roundedInterval(f.TimeErrorCI)
	f.PlaceErrorM, f.PlaceErrorCI = roundedSize(f.PlaceErrorM), roundedInterval(f.PlaceErrorCI)
	return f
}

func roundedSize(x *float64) *float64 {
	if x == nil {
		return nil
	}
	r := wording.RoundTo(*x, summaryStep)
	return &r
}

func roundedInterval(x *diagnose.Interval) *diagnose.Interval {
	if x == nil {
		return nil
	}
	return &diagnose.Interval{wording.RoundTo(x[0], summaryStep), wording.RoundTo(x[1], summaryStep)}
}

// DiagnosisFiles returns the files of --out, in the order they are written.
func DiagnosisFiles(d *run.Diagnosis) []files.File {
	return []files.File{
		{Name: "diagnosis.json", Write: func(w io.Writer) error { return WriteDiagnosisJSON(d, w) }},
		{Name: "diagnosis.html", Write: func(w io.Writer) error { return WriteDiagnosisHTML(d, w) }},
	}
}
