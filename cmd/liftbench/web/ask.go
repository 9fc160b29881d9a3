// The page's requests: a setting, and files to use instead of the demo's.

package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"mime/multipart"
	"net/http"
	"net/url"
	"path"
	"strconv"
	"strings"
)

// Control is one setting that can be turned.
type Control struct {
	Key     string    `json:"key"`
	Label   string    `json:"label"`
	What    string    `json:"what"` // a sentence
	Unit    string    `json:"unit,omitempty"`
	Usual   string    `json:"usual,omitempty"` // range that is usual
	Kind    Kind      `json:"kind"`
	Default any       `json:"default"` // float64, string or bool
	Min     float64   `json:"min"`
	Max     float64   `json:"max"`
	Step    float64   `json:"step,omitempty"`
	Words   []string  `json:"words,omitempty"`
	Choices []float64 `json:"choices,omitempty"`
}

// Kind says which values a control takes.
type Kind string

const (
	Number       Kind = "number"         // Min to Max
	NumberOrAuto Kind = "number-or-auto" // the same, or "auto"
	Word         Kind = "word"           // one of Words
	Choice       Kind = "choice"         // one of Choices
	Switch       Kind = "switch"         // true or false
)

// Take converts a value to the form in which the control holds it. An Error
// says which values the control takes.
func (c *Control) Take(v any) (any, error) {
	bad := func(expected string) error {
		text, err := json.Marshal(v) // from JSON or a query
		if err != nil {
			text = fmt.Append(nil, v) // JSON has no NaN and no infinity; a query has
		}
		return &Error{Status: http.StatusBadRequest, Key: c.Key,
			Msg: fmt.Sprintf("%s: found %.60s; expected %s", c.Key, text, expected)}
	}
	switch c.Kind {
	case Number, NumberOrAuto:
		if c.Kind == NumberOrAuto && v == "auto" {
			return v, nil
		}
		x, ok := v.(float64)
		if !ok || !(x >= c.Min && x <= c.Max) {
			auto := ""
			if c.Kind == NumberOrAuto {
				auto = "auto, or "
			}
			return nil, bad(fmt.Sprintf("%sa number from %g to %g %s", auto, c.Min, c.Max, c.Unit))
		}
		return x, nil
	case Word:
		for _, w := range c.Words {
			if v == w {
				return v, nil
			}
		}
		return nil, bad("one of: " + strings.Join(c.Words, ", "))
	case Choice:
		for _, x := range c.Choices {
			if v == x {
				return v, nil
			}
		}
		return nil, bad(fmt.Sprintf("one of: %v %s", c.Choices, c.Unit))
	}
	if _, ok := v.(bool); !ok {
		return nil, bad("true or false")
	}
	return v, nil
}

// text returns a value of the control as it stands in a link.
func text(v any) string {
	switch x := v.(type) {
	case float64:
		return strconv.FormatFloat(x, 'g', -1, 64)
	case bool:
		return strconv.FormatBool(x)
	}
	return fmt.Sprint(v)
}

// Upload is a file sent by the client. It is held in memory only.
type Upload struct {
	Name string // as the asker calls it, without folders
	Data []byte
}

// Ask is a setting to run.
type Ask struct {
	Set   map[string]any    // values that the controls took, by key
	Files map[string]Upload // by part: machine, field, log, states
	Zone  string            // of the clock of the states, where their times say none; "" = each says its own
}

// linkVersion is the version of the settings in links.
const linkVersion = "1"

// Query returns the setting as the query of a link: in the order of the
// controls, without those at their defaults.
func Query(controls []Control, set map[string]any) string {
	q := "v=" + linkVersion
	for i := range controls {
		c := &controls[i]
		if v, ok := set[c.Key]; ok && v != c.Default {
			q += "&" + c.Key + "=" + url.QueryEscape(text(v))
		}
	}
	return q
}

// Limits of an upload: of the whole request, and of each part.
const MaxBodyBytes = 48 << 20

var maxPart = map[string]int64{"set": 64 << 10, "machine": 1 << 20, "field": 8 << 20, "log": 32 << 20, "states": 16 << 20, "zone": 100}

// ask reads a request: the query of a GET, a JSON object, or a form with files.
func (s *server) ask(w http.ResponseWriter, r *http.Request) (*Ask, error) {
	if r.Method == http.MethodGet {
		return s.fromQuery(r.URL.RawQuery)
	}
	r.Body = http.MaxBytesReader(w, r.Body, MaxBodyBytes)
	kind, params, err := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if err != nil {
		kind = ""
	}
	switch kind {
	case "application/json":
		body, err := readPart(r.Body, "set")
		if err != nil {
			return nil, err
		}
		a := &Ask{}
		a.Set, err = s.fromJSON(body)
		return a, err
	case "multipart/form-data":
		return s.fromForm(multipart.NewReader(r.Body, params["boundary"]))
	}
	return nil, &Error{Status: http.StatusUnsupportedMediaType, Msg: "expected a setting as application/json, or files as multipart/form-data"}
}

// readPart reads a part of a request, up to its limit.
func readPart(in io.Reader, part string) ([]byte, error) {
	most := maxPart[part]
	data, err := io.ReadAll(io.LimitReader(in, most+1))
	if err != nil {
		var tooLarge *http.MaxBytesError
		if errors.As(err, &tooLarge) {
			return nil, err
		}
		return nil, badRequest("the upload broke off: %v", err)
	}
	if int64(len(data)) > most {
		return nil, &Error{Status: http.StatusRequestEntityTooLarge, File: part, Msg: fmt.Sprintf("%s: larger than %d bytes", part, most)}
	}
	return data, nil
}

// fromQuery reads the setting in a link.
func (s *server) fromQuery(raw string) (*Ask, error) {
	q, err := url.ParseQuery(raw)
	if err != nil {
		return nil, badRequest("the link's setting cannot be read: %v", err)
	}
	if v := q.Get("v"); len(q) > 0 && v != linkVersion {
		return nil, badRequest("the link holds a setting of version %.20q; expected v=%s", v, linkVersion)
	}
	values := map[string]any{}
	for key, list := range q {
		if key == "v" {
			continue
		}
		values[key] = fromText(list[0])
	}
	a := &Ask{}
	a.Set, err = s.take(values)
	return a, err
}

// fromText reads a value that stands in a link.
func fromText(s string) any {
	if x, err := strconv.ParseFloat(s, 64); err == nil {
		return x
	}
	switch s {
	case "true":
		return true
	case "false":
		return false
	}
	return s
}

// fromJSON reads a setting.
func (s *server) fromJSON(body []byte) (map[string]any, error) {
	if len(bytes.TrimSpace(body)) == 0 {
		return map[string]any{}, nil
	}
	var values map[string]any
	if err := json.Unmarshal(body, &values); err != nil {
		return nil, badRequest("the setting is no JSON object: %v", err)
	}
	return s.take(values)
}

// take checks every value against its control.
func (s *server) take(values map[string]any) (map[string]any, error) {
	set := map[string]any{}
	known := 0
	for i := range s.bench.Controls {
		c := &s.bench.Controls[i]
		v, ok := values[c.Key]
		if !ok {
			continue
		}
		known++
		var err error
		if set[c.Key], err = c.Take(v); err != nil {
			return nil, err
		}
	}
	if known == len(values) {
		return set, nil
	}
	unknown := "" // the first by name, so that the same question gets the same answer
	for key := range values {
		if _, ok := set[key]; !ok && (unknown == "" || key < unknown) {
			unknown = key
		}
	}
	return nil, badRequest("unknown setting %.40q", unknown)
}

// fromForm reads a form with files.
func (s *server) fromForm(form *multipart.Reader) (*Ask, error) {
	a := &Ask{Set: map[string]any{}, Files: map[string]Upload{}}
	for {
		p, err := form.NextPart()
		if err == io.EOF {
			return a, nil
		}
		if err != nil {
			var tooLarge *http.MaxBytesError
			if errors.As(err, &tooLarge) {
				return nil, err
			}
			return nil, badRequest("the upload is no whole form: %v", err)
		}
		name := p.FormName()
		if _, ok := maxPart[name]; !ok {
			return nil, badRequest("unknown part %.40q; expected set, machine, field, log, states or zone", name)
		}
		if _, twice := a.Files[name]; twice || name == "zone" && a.Zone != "" {
			return nil, badRequest("part %q comes twice", name)
		}
		data, err := readPart(p, name)
		if err != nil {
			return nil, err
		}
		if name == "set" {
			if a.Set, err = s.fromJSON(data); err != nil {
				return nil, err
			}
			continue
		}
		if name == "zone" {
			a.Zone = strings.TrimSpace(string(data))
			continue
		}
		a.Files[name] = Upload{Name: fileName(p.FileName(), name), Data: data}
	}
}

// fileName returns what an upload is called in errors: without folders and
// control characters, and not long.
func fileName(given, part string) string {
	name := path.Base(strings.ReplaceAll(given, `\`, "/"))
	name = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r == '\uFFFD' {
			return -1
		}
		return r
	}, name)
	if r := []rune(name); len(r) > 80 {
		name = string(r[len(r)-80:])
	}
	if name == "" || name == "." || name == ".." || name == "/" {
		return part
	}
	return name
}
