// Package web is the page: its files, embedded, and the questions it may ask.
// It knows HTTP, limits and the form of the answers; what is computed comes
// from a Bench. API.md says what each question is answered with.
package web

import (
	"compress/gzip"
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"

	"liftbench/cmd/liftbench/language"
)

// Bench computes for the page. All of it must be safe to call from several
// goroutines.
type Bench struct {
	Version  string
	Controls []Control
	Lessons  []Lesson
	// Run runs a setting. It ends early with ctx, which ends when the client
	// leaves. An error that the user can mend is an *Error. nil: there is
	// nothing to run, only Live to follow.
	Run func(ctx context.Context, a *Ask) (*Drive, error)
	// Files are the downloads of a setting by name, such as "events.csv".
	Files []File
	// Given are files that the page opens with.
	Given []Given
	// Live is the stream behind /api/live; nil = nothing is live.
	Live *Feed
	// Measure is the room /measure, one file of its own, with the content security policy that lets it
	// run its script and load nothing; an empty text = there is none.
	Measure struct{ Text, Policy string }
	// Now returns the state of Live at this instant; set if Live is.
	Now func() Instant
}

// Lesson is a ready-made setting, with what to change and what to look for.
type Lesson struct {
	Key   string         `json:"key"`
	Title string         `json:"title"`
	Text  [3]string      `json:"text"`
	Set   map[string]any `json:"set"`  // where it starts; all else at its default
	Turn  []string       `json:"turn"` // the controls to turn
	Watch string         `json:"watch"`
}

// File is one download of a finished drive, in a language if it has texts.
type File struct {
	Name, Type string
	Make       func(*Drive, language.Language) ([]byte, error)
}

// Given is a file that the page opens with, as if it had been dropped on it.
type Given struct {
	Name string // without its folder
	Read func() ([]byte, error)
}

// Error is an answer that says what the user has to mend.
type Error struct {
	Status int    `json:"-"`
	Msg    string `json:"error"`
	Key    string `json:"key,omitempty"`  // control at fault
	File   string `json:"file,omitempty"` // part of the upload at fault
	Line   int    `json:"line,omitempty"`
	Col    int    `json:"col,omitempty"`
}

func (e *Error) Error() string { return e.Msg }

// badRequest returns an Error with status 400.
func badRequest(format string, args ...any) *Error {
	return &Error{Status: http.StatusBadRequest, Msg: fmt.Sprintf(format, args...)}
}

// Safety is shown on the page (and stands in the README).
const Safety = "A bench, not a safety function. Raised implements and stored pressure crush. Keep people clear, use the mechanical locks, " +
	"relieve pressure before work on the hydraulics. Follow the machine's manual and local law (road width and height), and leave " +
	"work on a machine to a qualified person."

// contentSecurityPolicy lets the page load itself and nothing else, and run
// no script that is not a file of it.
const contentSecurityPolicy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; font-src 'self'; " +
	"connect-src 'self'; base-uri 'none'; form-action 'none'; frame-ancestors 'none'"

// server answers the page.
type server struct {
	bench Bench
	queue *queue
}

// Handler returns the page and its API. It belongs behind a guard.Guard that
// accepts bodies of MaxBodyBytes.
func Handler(b Bench) http.Handler {
	s := &server{bench: b, queue: newQueue()}
	mux := http.NewServeMux()
	on := func(path string, h http.HandlerFunc, methods ...string) {
		mux.HandleFunc(path, func(w http.ResponseWriter, r *http.Request) {
			if !slices.Contains(methods, r.Method) {
				w.Header().Set("Allow", strings.Join(methods, ", "))
				fail(w, &Error{Status: http.StatusMethodNotAllowed, Msg: r.Method + " " + r.URL.Path + "; expected " + strings.Join(methods, " or ")})
				return
			}
			h(w, r)
		})
	}
	const get, head, post = http.MethodGet, http.MethodHead, http.MethodPost
	on("/api/page", s.page, get)
	if b.Run != nil {
		on("/api/run", s.compute(s.run), post)
		on("/api/speeds", s.compute(s.speeds), post)
		on("/api/closeup", s.compute(s.closeUp), post)
	}
	for i := range b.Files {
		on("/api/"+b.Files[i].Name, s.compute(s.download(&b.Files[i])), get, post)
	}
	for i := range b.Given {
		on("/api/given/"+strconv.Itoa(i), s.given(&b.Given[i]), get)
	}
	on("/api/live", s.live, get)
	on("/api/live/state", s.liveState, get)
	mux.HandleFunc("/api/", func(w http.ResponseWriter, r *http.Request) {
		fail(w, &Error{Status: http.StatusNotFound, Msg: r.URL.Path + " is no question of the page"})
	})
	if b.Measure.Text != "" {
		on("/measure", s.measure, get, head)
	}
	on("/", s.file(), get, head)
	return secured(mux)
}

// secured sets the headers that keep the page isolated from others.
func secured(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		head := w.Header()
		head.Set("Content-Security-Policy", contentSecurityPolicy)
		head.Set("X-Content-Type-Options", "nosniff")
		head.Set("Referrer-Policy", "no-referrer")
		head.Set("Cross-Origin-Opener-Policy", "same-origin")
		head.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.ServeHTTP(w, r)
	})
}

// measure answers with the room for readings with a tape.
func (s *server) measure(w http.ResponseWriter, r *http.Request) {
	w.Header().Set("Content-Security-Policy", s.bench.Measure.Policy+"; frame-ancestors 'none'")
	answer(w, r, "text/html; charset=utf-8", []byte(s.bench.Measure.Text))
}

// given answers with a file that the page opens with, as it is now.
func (s *server) given(g *Given) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		data, err := g.Read()
		if err != nil {
			fail(w, badRequest("%v", err))
			return
		}
		answer(w, r, "application/octet-stream", data)
	}
}

// page answers with the controls, lessons and files of the page.
func (s *server) page(w http.ResponseWriter, r *http.Request) {
	controls, lessons := s.bench.Controls, s.bench.Lessons
	if s.bench.Run == nil {
		controls, lessons = []Control{}, []Lesson{} // lists, not null
	}
	given := []string{}
	for _, g := range s.bench.Given {
		given = append(given, g.Name)
	}
	text, err := json.Marshal(struct {
		Version  string           `json:"version"`
		Safety   string           `json:"safety"`
		Live     bool             `json:"live"`
		Measure  bool             `json:"measure"`
		Controls []Control        `json:"controls"`
		Lessons  []Lesson         `json:"lessons"`
		Limits   map[string]int64 `json:"limits"`
		Given    []string         `json:"given"`
	}{s.bench.Version, Safety, s.bench.Live != nil, s.bench.Measure.Text != "", controls, lessons, map[string]int64{
		"upload_bytes": MaxBodyBytes, "machine_bytes": maxPart["machine"], "field_bytes": maxPart["field"],
		"log_bytes": maxPart["log"], "states_bytes": maxPart["states"],
	}, given})
	if err != nil {
		fail(w, err)
		return
	}
	answer(w, r, "application/json", text)
}

// answer writes a body, gzipped if the client accepts it.
func answer(w http.ResponseWriter, r *http.Request, contentType string, body []byte) {
	head := w.Header()
	head.Set("Content-Type", contentType)
	head.Set("Cache-Control", "no-store")
	head.Add("Vary", "Accept-Encoding")
	if !takesGzip(r) || len(body) < 1<<10 {
		head.Set("Content-Length", strconv.Itoa(len(body)))
		_, _ = w.Write(body) // the asker has gone
		return
	}
	head.Set("Content-Encoding", "gzip")
	z := zippers.Get().(*gzip.Writer)
	defer zippers.Put(z)
	z.Reset(w)
	_, _ = z.Write(body)
	_ = z.Close()
}

// fail answers with an error. One that is no *Error is the program's own fault.
func fail(w http.ResponseWriter, err error) {
	var e *Error
	var tooLarge *http.MaxBytesError
	switch {
	case errors.As(err, &e):
	case errors.As(err, &tooLarge):
		e = &Error{Status: http.StatusRequestEntityTooLarge, Msg: fmt.Sprintf("the upload is larger than %d bytes", tooLarge.Limit)}
	default:
		e = &Error{Status: http.StatusInternalServerError, Msg: err.Error()}
	}
	head := w.Header()
	head.Set("Content-Type", "application/json")
	head.Set("Cache-Control", "no-store")
	if e.Status == http.StatusServiceUnavailable {
		head.Set("Retry-After", "1")
	}
	w.WriteHeader(e.Status)
	text, _ := json.Marshal(e) // strings and numbers
	_, _ = w.Write(text)
}

// takesGzip reports whether the client accepts gzip.
func takesGzip(r *http.Request) bool {
	for _, c := range strings.Split(r.Header.Get("Accept-Encoding"), ",") {
		name, quality, _ := strings.Cut(strings.TrimSpace(c), ";")
		if strings.EqualFold(name, "gzip") {
			weight, given := strings.CutPrefix(strings.ToLower(strings.ReplaceAll(quality, " ", "")), "q=")
			if !given {
				return true
			}
			// RFC 9110, 12.4.2: a weight of 0 means not acceptable, with up to three decimals.
			q, err := strconv.ParseFloat(weight, 64)
			return err == nil && q > 0
		}
	}
	return false
}

// zippers are the compressors of answers.
var zippers = sync.Pool{New: func() any {
	z, _ := gzip.NewWriterLevel(nil, gzip.BestSpeed) // the level is one
	return z
}}

// Zipped compresses what h writes for those who accept gzip. It is for text, such as
// the page's own files.
func Zipped(h http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w.Header().Add("Vary", "Accept-Encoding")
		if !takesGzip(r) || r.Header.Get("Range") != "" {
			h.ServeHTTP(w, r)
			return
		}
		z := &zipWriter{ResponseWriter: w}
		defer z.close()
		h.ServeHTTP(z, r)
	})
}

// zipWriter compresses the body of an answer of status 200.
type zipWriter struct {
	http.ResponseWriter
	zip   *gzip.Writer
	wrote bool
}

func (z *zipWriter) WriteHeader(status int) {
	if !z.wrote && status == http.StatusOK {
		z.Header().Del("Content-Length")
		z.Header().Set("Content-Encoding", "gzip")
		z.zip = zippers.Get().(*gzip.Writer)
		z.zip.Reset(z.ResponseWriter)
	}
	z.wrote = true
	z.ResponseWriter.WriteHeader(status)
}

func (z *zipWriter) Write(b []byte) (int, error) {
	if !z.wrote {
		z.WriteHeader(http.StatusOK)
	}
	if z.zip == nil {
		return z.ResponseWriter.Write(b)
	}
	return z.zip.Write(b)
}

func (z *zipWriter) close() {
	if z.zip != nil {
		_ = z.zip.Close() // the asker has gone
		zippers.Put(z.zip)
	}
}
