// summary.json: the figures of a run for programs.

package report

import (
	"encoding/json"
	"io"
	"time"

	"liftbench/cmd/liftbench/run"
	"liftbench/cmd/liftbench/wording"
	"liftbench/sections"
	"liftbench/sections/score"
	"liftbench/sections/score/rows"
)

// Summary is the content of summary.json. Errors are actual minus ideal,
// positive = late; null if no transition has both.
type Summary struct {
	Suspicion    string             `json:"suspicion,omitempty"` // what is most likely wrong with the input
	Fixes        int64              `json:"fixes"`
	Sentences    run.SentenceCounts `json:"sentences"`
	Times        *TimeCounts        `json:"times,omitempty"` // nil where all were in order
	DurationS    float64            `json:"duration_s"`
	DistanceM    float64            `json:"distance_m"`
	SectionCount int                `json:"section_count"`
	Lift         score.Stats        `json:"lift"`
	Drop         score.Stats        `json:"drop"`
	AreaM2       summaryArea        `json:"area_m2"`
	WorkRate     *summaryRate       `json:"work_rate"`               // null where nothing was worked
	Rows         *summaryRows       `json:"rows,omitempty"`          // where the field says where they lie
	Late         map[string]int64   `json:"late_commands,omitempty"` // of our own controller, by cause
	Sections     []sectionSummary   `json:"sections"`
	Outside      *outsideSummary    `json:"outside,omitempty"` // of bench
}

// TimeCounts counts the times told by the receiver that were not believed, by
// what was wrong with them.
type TimeCounts struct {
	OutOfOrder  int64 `json:"out_of_order"` // epochs dropped for a time that had passed
	NotBelieved int64 `json:"not_believed"` // epochs dropped for a time far ahead that no others bore out
	WrongDates  int64 `json:"wrong_dates"`  // epochs used whose date was not that of the day they came on
	ClockSets   int64 `json:"clock_sets"`   // times that its clock was believed to have been set
}

// times returns these counts, nil if every time was believed.
func times(o *run.Outcome) *TimeCounts {
	c := &o.Reader.Epochs
	t := TimeCounts{c.OutOfOrder, c.NotBelieved, c.WrongDates, c.ClockSets}
	if t == (TimeCounts{}) {
		return nil
	}
	return &t
}

type summaryArea struct {
	Zone       float64 `json:"zone"`
	Worked     float64 `json:"worked"`
	Miss       float64 `json:"miss"`
	Overrun    float64 `json:"overrun"`
	Repeat     float64 `json:"repeat"`
	AcrossRows float64 `json:"across_rows"`
}

// summaryRate is how fast the drive worked, and how often its sections ought to
// have moved (sim.Rate).
type summaryRate struct {
	HaPerH     float64 `json:"ha_per_h"`
	SpeedKmh   float64 `json:"speed_in_work_kmh"`
	Efficiency float64 `json:"field_efficiency"`
	LiftsPerHa float64 `json:"lifts_per_ha"`
	DropsPerHa float64 `json:"drops_per_ha"`
}

// roundedRate returns the work rate, nil if nothing was worked.
func roundedRate(o *run.Outcome) *summaryRate {
	r := o.Rate(o.Machine.WidthM())
	if r.HaPerH == 0 {
		return nil
	}
	round := func(x float64) float64 { return wording.RoundTo(x, summaryStep) }
	return &summaryRate{round(r.HaPerH), round(r.SpeedKmh), round(r.Efficiency), round(r.LiftsPerHa), round(r.DropsPerHa)}
}

// summaryRows is how far the tools ran beside the rows (rows.Pass).
type summaryRows struct {
	RMSM   float64       `json:"rms_m"`
	WorstM float64       `json:"worst_m"`
	CropM2 float64       `json:"crop_m2"`
	Passes []summaryPass `json:"passes"`
}

type summaryPass struct {
	From   time.Time `json:"from"`
	WayM   float64   `json:"way_m"`
	MeanM  float64   `json:"mean_m"` // positive = to the right
	RMSM   float64   `json:"rms_m"`
	WorstM float64   `json:"worst_m"`
	CropM2 float64   `json:"crop_m2"`
}

// roundedRows returns how far the tools ran beside the rows, nil if the place
// of the rows is not known.
func roundedRows(passes []rows.Pass) *summaryRows {
	if len(passes) == 0 {
		return nil
	}
	round := func(x float64) float64 { return wording.RoundTo(x, summaryStep) }
	rms, worst, crop := rows.Sum(passes)
	s := &summaryRows{RMSM: round(rms), WorstM: round(worst), CropM2: round(crop)}
	for i := range passes {
		p := &passes[i]
		s.Passes = append(s.Passes, summaryPass{time.Unix(0, p.FromNs).UTC(), round(p.WayM), round(p.MeanM), round(p.RMSM), round(p.WorstM), round(p.CropM2)})
	}
	return s
}

// sectionSummary holds the figures of one section. Its zone area is the area of
// zones that the section passed over.
type sectionSummary struct {
	Section int         `json:"section"`
	Lift    score.Stats `json:"lift"`
	Drop    score.Stats `json:"drop"`
	AreaM2  summaryArea `json:"area_m2"`
}

// summaryStep is what every figure is rounded to: a micrometre, a microsecond,
// a square millimetre. Finer digits come from arithmetic, not from measuring.
const summaryStep = 1e-6

// WriteSummary writes summary.json.
func WriteSummary(o *run.Outcome, w io.Writer) error {
	s := Summary{
		Fixes:        o.Reception.Fixes,
		Sentences:    o.Sentences(),
		Times:        times(o),
		DurationS:    wording.RoundTo(o.DurationS, summaryStep),
		DistanceM:    wording.RoundTo(o.DistanceM, summaryStep),
		SectionCount: len(o.Score.Sections),
		Lift:         rounded(o.Score.Lift),
		Drop:         rounded(o.Score.Drop),
		AreaM2:       roundedArea(o.Score.ZoneM2, &o.Score.Area),
		WorkRate:     roundedRate(o),
		Rows:         roundedRows(o.Rows),
	}
	if o.Suspicion != nil {
		s.Suspicion = o.Suspicion.Text
	}
	if o.Outside != nil {
		s.Outside = heardSummary(o.Outside)
	} else {
		s.Late = map[string]int64{}
		for cause, n := range o.Controller.Late {
			s.Late[sections.LateCause(cause).String()] = n
		}
	}
	for i := range o.Score.Sections {
		x := &o.Score.Sections[i]
		s.Sections = append(s.Sections, sectionSummary{i + 1, rounded(x.Lift), rounded(x.Drop), roundedArea(x.Area.PassedM2, &x.Area)})
	}
	enc := json.NewEncoder(w)
	enc.SetIndent("", "  ")
	return enc.Encode(&s)
}

// rounded returns a copy of s with its figures rounded.
func rounded(s score.Stats) score.Stats {
	spread := func(p *score.Spread) *score.Spread {
		if p == nil {
			return nil
		}
		return &score.Spread{
			Mean:   wording.RoundTo(p.Mean, summaryStep),
			P95Abs: wording.RoundTo(p.P95Abs, summaryStep),
			MaxAbs: wording.RoundTo(p.MaxAbs, summaryStep),
		}
	}
	s.TimeErrorS, s.PlaceErrorM = spread(s.TimeErrorS), spread(s.PlaceErrorM)
	return s
}

func roundedArea(zoneM2 float64, a *score.Areas) summaryArea {
	return summaryArea{
		Zone:       wording.RoundTo(zoneM2, summaryStep),
		Worked:     wording.RoundTo(a.WorkedM2, summaryStep),
		Miss:       wording.RoundTo(a.MissM2, summaryStep),
		Overrun:    wording.RoundTo(a.OverrunM2, summaryStep),
		Repeat:     wording.RoundTo(a.RepeatM2, summaryStep),
		AcrossRows: wording.RoundTo(a.AcrossRowsM2, summaryStep),
	}
}

// outsideSummary is what was heard of an outside controller, in summary.json.
type outsideSummary struct {
	Setpoints   int     `json:"setpoints"`
	Lines       int64   `json:"lines"`
	Damaged     int64   `json:"damaged_lines"`
	After       int     `json:"after_their_instant"`
	WorstAfterS float64 `json:"worst_after_s"`
	TooFar      int64   `json:"beyond_10_s_lines"` // lines for an instant more than 10 s ahead, not executed
	ClockAheadS float64 `json:"clock_ahead_s"`     // 0 where it is right within a lead and a second
	PlayedLateS float64 `json:"played_late_s"`     // how far the receiver was behind its time at most
}

func heardSummary(h *run.Heard) *outsideSummary {
	var clockAheadS float64
	if offsetNs, off := h.Clock.OffsetNs(h.LeadNs); off {
		clockAheadS = wording.RoundTo(float64(offsetNs)*1e-9, 0.1)
	}
	return &outsideSummary{
		Setpoints: len(h.Setpoints), Lines: h.Lines, Damaged: h.Damaged,
		After: h.After, WorstAfterS: wording.RoundTo(float64(h.AfterNs)*1e-9, summaryStep),
		TooFar: h.TooFar, ClockAheadS: clockAheadS,
		PlayedLateS: wording.RoundTo(h.Late.Seconds(), summaryStep),
	}
}
