// The sheet file: what an acceptance sheet says beside the figures. Everything in it may
// be left out; what is missing is a line to be filled in by hand.

package settings

import (
	"fmt"
	"strings"
	"time"
	"unicode"

	"github.com/goccy/go-yaml/ast"

	"liftbench/cmd/liftbench/settings/bind"
)

// Acceptance is a sheet file.
type Acceptance struct {
	Customer string      `key:"customer" doc:"who takes the machine over"`
	Supplier string      `key:"supplier" doc:"who hands it over"`
	Farm     string      `key:"farm" doc:"the farm it works on"`
	Machine  Made        `key:"machine" doc:"the hoe"`
	Tractor  Made        `key:"tractor" doc:"the tractor"`
	Terminal Made        `key:"terminal" doc:"the terminal, or the controller of the sections"`
	Receiver Made        `key:"receiver" doc:"the GNSS receiver"`
	Date     string      `key:"date" doc:"the day of the acceptance, as 2026-05-12"`
	Field    string      `key:"field" doc:"the field that was driven on"`
	Weather  string      `key:"weather" doc:"weather, as dry, 18 °C"`
	Soil     string      `key:"soil" doc:"soil and its moisture"`
	Oil      string      `key:"oil" doc:"kind and temperature of the oil, as VG 46, 42 °C"`
	Before   OldTiming   `key:"before" doc:"how the controller was set before"`
	Agreed   SheetAgreed `key:"tolerance" doc:"what both sides agreed on"`
	Cautions []string    `key:"cautions" doc:"what else both sides should know, a sentence each"`

	Doc *bind.Document
}

// Made is a piece of equipment.
type Made struct {
	Model    string `key:"model" doc:"maker and model"`
	Serial   Label  `key:"serial_number" doc:"serial number"`
	Software Label  `key:"software" doc:"version of its software"`
}

// Label is a number or a version as it is written: 1.10 is not 1.1, nor 0047 39.
type Label string

// Bind takes text or a number as it stands in the file.
func (l *Label) Bind(n ast.Node) error {
	switch n.(type) {
	case *ast.StringNode, *ast.IntegerNode, *ast.FloatNode:
		if s := n.GetToken().Value; s != "" && strings.IndexFunc(s, unicode.IsControl) < 0 {
			*l = Label(s)
			return nil
		}
	}
	return fmt.Errorf("found %s; expected text on one line", bind.Describe(n))
}

// Schema returns the schema of both forms.
func (l *Label) Schema() map[string]any {
	return map[string]any{"anyOf": []any{map[string]any{"type": "string"}, map[string]any{"type": "number"}}}
}

// OldTiming are settings as they were before.
type OldTiming struct {
	LiftLeadMs      *float64 `key:"lift_lead_ms" unit:"ms" min:"0" max:"10000" doc:"lift lead"`
	DropLeadMs      *float64 `key:"drop_lead_ms" unit:"ms" min:"0" max:"10000" doc:"drop lead"`
	AntennaForwardM *float64 `key:"antenna_forward_m" unit:"m" min:"-20" max:"20" doc:"antenna ahead of the middle of the rear axle"`
	ToolForwardM    *float64 `key:"tool_forward_m" unit:"m" min:"-50" max:"50" doc:"tools ahead of the middle of the rear axle, behind it below 0"`
}

// SheetAgreed is a tolerance, and how sure it is to be shown.
type SheetAgreed struct {
	LiftCm     float64 `key:"lift_cm" unit:"cm" above:"0" max:"1000" doc:"place error of lifts, to either side, that is still good"`
	DropCm     float64 `key:"drop_cm" unit:"cm" above:"0" max:"1000" doc:"place error of drops, to either side, that is still good"`
	Share      float64 `key:"share_percent" unit:"%" min:"50" max:"99.9" doc:"share of crossings that must keep it"`
	Confidence float64 `key:"confidence_percent" unit:"%" min:"50" max:"99.9" doc:"confidence with which this is to be shown"`
}

// Day returns the day of the acceptance; the zero time if it is not given.
func (a *Acceptance) Day() (time.Time, error) {
	if a.Date == "" {
		return time.Time{}, nil
	}
	return time.Parse(time.DateOnly, a.Date)
}

// DefaultAcceptance is the content of an empty sheet file.
func DefaultAcceptance() *Acceptance {
	return &Acceptance{Agreed: SheetAgreed{LiftCm: 10, DropCm: 10, Share: 95, Confidence: 95}, Doc: bind.NewDocument("")}
}

// LoadAcceptance reads a sheet file.
func LoadAcceptance(file string) (*Acceptance, error) {
	data, err := OnDisk.Read(file, "a sheet file")
	if err != nil {
		return nil, err
	}
	a := DefaultAcceptance()
	if a.Doc, err = readKind(file, data, "sheet", a); err != nil {
		return nil, err
	}
	if _, err := a.Day(); err != nil {
		return nil, a.Doc.ErrorAt("date", "date: found %q; expected a day as 2026-05-12", a.Date)
	}
	return a, nil
}
