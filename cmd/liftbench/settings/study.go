// The study file: which settings of a scenario vary, and how often each point
// is driven.

package settings

import (
	"fmt"
	"math"

	"liftbench/cmd/liftbench/settings/bind"
	"liftbench/sim/sweep"
)

// Study is a study file.
type Study struct {
	Name        string   `key:"name" doc:"what the study is called in its results"`
	Scenario    string   `key:"scenario" need:"yes" doc:"the scenario file that varies, relative to this file; its drive must be a generated one"`
	Vary        []Vary   `key:"vary" need:"yes" doc:"the settings that vary"`
	Seeds       int      `key:"seeds" min:"1" max:"1000000" doc:"drives at each point of the grid, each with random numbers of its own"`
	FirstSeed   int      `key:"first_seed" min:"0" max:"9007199254740991" doc:"drive.seed of the first of them"`
	ToleranceCm float64  `key:"tolerance_cm" unit:"cm" above:"0" max:"1000" doc:"place error within which a lift or drop counts as good"`
	Show        []string `key:"show" doc:"results that figures show, as the columns of results.csv are called"`

	Doc *bind.Document
}

// Vary is one setting that varies: over values or from … to in steps, or
// drawn anew for each drive.
type Vary struct {
	Key    string       `key:"key" need:"yes" doc:"path of a number in the scenario file, as drive.speed_kmh; in the machine file, as machine.hydraulics.oil_c"`
	Values []float64    `key:"values" doc:"its values"`
	From   *float64     `key:"from" doc:"its least value"`
	To     *float64     `key:"to" doc:"its greatest value"`
	Steps  *int         `key:"steps" min:"2" max:"100000" doc:"how many values from the least to the greatest, both among them"`
	Draw   *sweep.Shape `key:"draw" words:"normal|uniform" doc:"draws it for each drive, evenly between from and to, or from a normal distribution cut off there"`
	Mean   *float64     `key:"mean" doc:"mean of the normal distribution"`
	SD     *float64     `key:"sd" above:"0" doc:"standard deviation of the normal distribution"`
}

// DefaultStudy is the content of an empty study file.
func DefaultStudy() *Study {
	return &Study{Seeds: 10, FirstSeed: 1, ToleranceCm: 10, Show: []string{"within_percent", "off_target_percent"}}
}

// LoadStudy reads a study file and the setup it varies.
func LoadStudy(file string, read Source) (*Study, *Setup, error) {
	data, err := read.Read(file, "a study file")
	if err != nil {
		return nil, nil, err
	}
	c := DefaultStudy()
	if c.Doc, err = readKind(file, data, "study", c); err != nil {
		return nil, nil, err
	}
	scenario := read.beside(file, c.Scenario)
	u := &Setup{Title: scenario}
	if u.Scenario, u.Machine, err = LoadScenario(scenario, read, ""); err != nil {
		return nil, nil, err
	}
	if u.Scenario.Log != "" {
		return nil, nil, c.Doc.ErrorAt("scenario", "scenario: %s replays a recorded log; expected a scenario whose drive is generated", c.Scenario)
	}
	if u.Scenario.Name != "" {
		u.Title = u.Scenario.Name
	}
	fieldFile, read := u.Scenario.Field.In(scenario, read)
	return c, u, u.LoadField(fieldFile, read, &Selection{})
}

// Plan returns the drives of the study. Every value is tried on the settings
// first.
func (c *Study) Plan(u *Setup) (*sweep.Plan, error) {
	p := &sweep.Plan{Seeds: c.Seeds, FirstSeed: uint64(c.FirstSeed)}
	if err := u.Copy().Set("drive.seed", float64(c.FirstSeed+c.Seeds-1)); err != nil {
		return nil, c.Doc.ErrorAt("first_seed", "first_seed: the last of %d seeds: %v", c.Seeds, err)
	}
	for i := range c.Vary {
		v := &c.Vary[i]
		path := fmt.Sprintf("vary[%d]", i)
		a, err := v.axis(u)
		if err != nil {
			return nil, c.Doc.ErrorAt(path, "%s: %v", path, err)
		}
		p.Axes = append(p.Axes, a)
		if err := p.Check(); err != nil {
			return nil, c.Doc.ErrorAt(path, "%s: %v", path, err)
		}
		for _, x := range a.Values {
			if err := u.Copy().Set(a.Key, x); err != nil {
				return nil, c.Doc.ErrorAt(path, "%s: %v", path, err)
			}
		}
		if a.Draw == nil {
			continue
		}
		// Between two values that a setting accepts it accepts every other,
		// unless it takes whole numbers only.
		for _, share := range []float64{1e-9, 1 - 1e-9} {
			if err := u.Copy().Set(a.Key, a.Draw.At(share)); err != nil {
				return nil, c.Doc.ErrorAt(path, "%s: drawn at random, %v", path, err)
			}
		}
	}
	return p, nil
}

// axis returns the setting as an axis of the plan.
func (v *Vary) axis(u *Setup) (sweep.Axis, error) {
	a := sweep.Axis{Key: v.Key}
	_, tag, err := u.Copy().settingAt(v.Key)
	if err != nil {
		return a, err
	}
	if v.Key == "drive.seed" {
		return a, fmt.Errorf("drive.seed: each drive has its own; expected seeds and first_seed of the study")
	}
	switch {
	case v.Draw != nil:
		if v.Values != nil || v.Steps != nil {
			return a, fmt.Errorf("%s: found draw beside values or steps; expected one of them", v.Key)
		}
		a.Draw, err = v.distribution(bind.RangeOf(tag))
		return a, err
	case v.Values != nil:
		if v.From != nil || v.To != nil || v.Steps != nil {
			return a, fmt.Errorf("%s: found values beside from, to or steps; expected one of them", v.Key)
		}
		a.Values = v.Values
	case v.From != nil && v.To != nil && v.Steps != nil:
		a.Values = sweep.Spaced(*v.From, *v.To, *v.Steps)
	default:
		return a, fmt.Errorf("%s: expected values, or from, to and steps, or draw", v.Key)
	}
	if v.Mean != nil || v.SD != nil {
		return a, fmt.Errorf("%s: found mean or sd; expected them beside draw: normal", v.Key)
	}
	return a, nil
}

// distribution returns what the setting is drawn from, within the range that
// the setting can have.
func (v *Vary) distribution(l bind.Range) (*sweep.Distribution, error) {
	const noEnd = math.MaxFloat64 / 4
	d := &sweep.Distribution{Shape: *v.Draw, Lo: max(l.Lo, -noEnd), Hi: min(l.Hi, noEnd)}
	if v.From != nil {
		d.Lo = *v.From
	}
	if v.To != nil {
		d.Hi = *v.To
	}
	switch {
	case !l.Holds(d.Lo) && !(l.LoOpen && d.Lo == l.Lo) || !l.Holds(d.Hi) && !(l.HiOpen && d.Hi == l.Hi):
		return nil, fmt.Errorf("%s: draws from %g to %g; expected numbers%s", v.Key, d.Lo, d.Hi, l)
	case d.Shape == sweep.Uniform:
		if v.From == nil || v.To == nil || v.Mean != nil || v.SD != nil {
			return nil, fmt.Errorf("%s: expected draw: uniform with from and to", v.Key)
		}
	default:
		if v.Mean == nil || v.SD == nil {
			return nil, fmt.Errorf("%s: expected draw: normal with mean and sd, and where it is to be cut off, from and to", v.Key)
		}
		d.Mean, d.SD = *v.Mean, *v.SD
	}
	return d, nil
}
