package write_test

import (
	"bytes"
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"liftbench/replay/taskdata/write"
)

// rules are those of the ISO 11783-10 version 4.3 schema for the elements that are written:
// of each attribute a form, after ? where it may be absent, and the elements that may stand inside. A range is of whole
// numbers, dec of decimals with nine digits after the point at most.
var rules = map[string]struct {
	attributes map[string]string
	children   string
}{
	"ISO11783_TaskData": {map[string]string{"VersionMajor": "4", "VersionMinor": "3", "ManagementSoftwareManufacturer": "text", "ManagementSoftwareVersion": "text",
		"TaskControllerManufacturer": "?text", "TaskControllerVersion": "?text", "DataTransferOrigin": "[12]"}, "DVC PFD TSK"},
	"DVC": {map[string]string{"A": "DVC-?[0-9]+", "B": "?text", "C": "?text", "D": "[0-9A-F]{16}", "E": "?text", "F": "[0-9A-F]{1,78}", "G": "[0-9A-F]{14}"}, "DET DPD DPT"},
	"DET": {map[string]string{"A": "DET-?[0-9]+", "B": "1..65534", "C": "[1-7]", "D": "?text", "E": "0..4095", "F": "0..65534"}, "DOR"},
	"DOR": {map[string]string{"A": "1..65534"}, ""},
	"DPD": {map[string]string{"A": "1..65534", "B": "[0-9A-F]{4}", "C": "0..7", "D": "0..31", "E": "?text"}, ""},
	"DPT": {map[string]string{"A": "1..65534", "B": "[0-9A-F]{4}", "C": "-2147483648..2147483647", "D": "?text"}, ""},
	"PFD": {map[string]string{"A": "PFD-?[0-9]+", "C": "text", "D": "0..4294967294"}, "PLN GGP"},
	"PLN": {map[string]string{"A": "[1-9]|1[0-2]", "B": "?text"}, "LSG"},
	"LSG": {map[string]string{"A": "[1-9]", "B": "?text"}, "PNT"},
	"PNT": {map[string]string{"A": "[1-9]|1[01]", "C": "dec -90..90", "D": "dec -180..180"}, ""},
	"GGP": {map[string]string{"A": "GGP-?[0-9]+", "B": "?text"}, "GPN"},
	"GPN": {map[string]string{"A": "GPN-?[0-9]+", "B": "?text", "C": "[1-5]", "G": "?dec 0..360"}, "LSG"},
	"TSK": {map[string]string{"A": "TSK-?[0-9]+", "B": "?text", "E": "?PFD-?[0-9]+", "G": "[1-6]"}, "TIM DAN CNN TLG"},
	"TIM": {map[string]string{"A": `\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?`, "B": `?\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?`, "D": "[124-8]"}, ""},
	"DAN": {map[string]string{"A": "[0-9A-F]{16}", "C": "?DVC-?[0-9]+"}, ""},
	"CNN": {map[string]string{"A": "DVC-?[0-9]+", "B": "DET-?[0-9]+", "C": "DVC-?[0-9]+", "D": "DET-?[0-9]+"}, ""},
	"TLG": {map[string]string{"A": "TLG[0-9]{5}", "C": "1"}, ""},
}

// breaks returns what in a TASKDATA.XML is against the rules: forms of attributes, elements in the
// wrong place, ids that are used twice or refer to nothing.
func breaks(data []byte) (wrong []string) {
	say := func(format string, a ...any) { wrong = append(wrong, fmt.Sprintf(format, a...)) }
	ids, refs := map[string]bool{}, []string{}
	objects := map[string]bool{} // of the device that is being read
	var objectRefs []string
	d := xml.NewDecoder(bytes.NewReader(data))
	var path []string
	for {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			say("%v", err)
			break
		}
		switch e := token.(type) {
		case xml.StartElement:
			name := e.Name.Local
			rule, known := rules[name]
			if !known {
				say("element %s", name)
				return wrong
			}
			if len(path) > 0 && !strings.Contains(" "+rules[path[len(path)-1]].children+" ", " "+name+" ") {
				say("%s inside %s", name, path[len(path)-1])
			}
			path = append(path, name)
			if name == "DVC" {
				objects, objectRefs = map[string]bool{}, nil
			}
			has := map[string]string{}
			for _, a := range e.Attr {
				has[a.Name.Local] = a.Value
				if _, ok := rule.attributes[a.Name.Local]; !ok {
					say("%s has %s", name, a.Name.Local)
				}
			}
			for letter, form := range rule.attributes {
				value, there := has[letter]
				form, optional := strings.CutPrefix(form, "?")
				if !there && optional {
					continue
				}
				if !there || !fits(form, value) {
					say("%s %s=%q, expected %s", name, letter, value, form)
				}
				if strings.Contains("DVC DET PFD GGP GPN TSK", name) && letter == "A" {
					if ids[value] {
						say("%s is used twice", value)
					}
					ids[value] = true
				} else if pattern("(DVC|DET|PFD)-?[0-9]+").MatchString(value) {
					refs = append(refs, value)
				}
			}
			switch name {
			case "DET", "DPD", "DPT":
				id := has["A"]
				if name == "DET" {
					id = has["B"]
					if has["F"] != "0" {
						objectRefs = append(objectRefs, has["F"])
					}
				}
				if objects[id] {
					say("object %s twice in a device", id)
				}
				objects[id] = true
			case "DOR":
				objectRefs = append(objectRefs, has["A"])
			}
		case xml.EndElement:
			path = path[:len(path)-1]
			if e.Name.Local == "DVC" {
				for _, r := range objectRefs {
					if !objects[r] {
						say("no object %s", r)
					}
				}
			}
		}
	}
	for _, r := range refs {
		if !ids[r] {
			say("nothing has the id %s", r)
		}
	}
	return wrong
}

func fits(form, value string) bool {
	if form == "text" {
		return value != "" && len(value) <= 32
	}
	number, isDecimal := strings.CutPrefix(form, "dec ")
	if from, to, ok := strings.Cut(number, ".."); ok {
		least, _ := strconv.ParseFloat(from, 64)
		most, _ := strconv.ParseFloat(to, 64)
		v, err := strconv.ParseFloat(value, 64)
		shape := `-?\d+`
		if isDecimal {
			shape = `-?\d+(\.\d{1,9})?`
		}
		return err == nil && v >= least && v <= most && pattern(shape).MatchString(value)
	}
	return pattern(form).MatchString(value)
}

var patterns = map[string]*regexp.Regexp{}

// pattern matches the whole of a text.
func pattern(form string) *regexp.Regexp {
	p, ok := patterns[form]
	if !ok {
		p = regexp.MustCompile("^(" + form + ")$")
		patterns[form] = p
	}
	return p
}

func TestSchema(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		files, err := write.Files(day(t))
		if err != nil {
			t.Fatal(err)
		}
		if wrong := breaks(files[0].Data); len(wrong) > 0 {
			t.Fatal(strings.Join(wrong, "\n"))
		}
		for _, f := range files {
			if !regexp.MustCompile(`^(TASKDATA\.XML|TLG00001\.(xml|bin))$`).MatchString(f.Name) {
				t.Fatalf("file %s", f.Name)
			}
		}
	})
	// The rules see what is against them.
	for bad, want := range map[string]string{
		`<ISO11783_TaskData/>`: "VersionMajor",
		`<ISO11783_TaskData><DVC A="DVC-1" D="12" F="00" G="FF000000006E65"><DET A="DET-1" B="1" C="1" E="0" F="0"><DOR A="9"/></DET></DVC></ISO11783_TaskData>`: `DVC D="12"`,
		`<ISO11783_TaskData><DVC><DET A="DET-1" B="1" C="1" E="0" F="0"><DOR A="9"/></DET></DVC></ISO11783_TaskData>`:                                            "no object 9",
		`<ISO11783_TaskData><PFD><PLN A="1"><LSG A="1"><PNT A="2" C="1.0123456789" D="0"/></LSG></PLN></PFD></ISO11783_TaskData>`:                                `PNT C="1.0123456789"`,
		`<ISO11783_TaskData><TSK A="TSK1" G="4" E="PFD7"/></ISO11783_TaskData>`:                                                                                  "nothing has the id PFD7",
		`<ISO11783_TaskData><TLG A="TLG1" C="1"/></ISO11783_TaskData>`:                                                                                           "TLG inside ISO11783_TaskData",
	} {
		if got := strings.Join(breaks([]byte(bad)), "\n"); !strings.Contains(got, want) {
			t.Errorf("%s: %q, expected %q", bad, got, want)
		}
	}
}
