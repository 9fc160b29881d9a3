// Questions on a terminal, for who has the paper in hand and no spreadsheet.

package tape

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"strings"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/sentence"
	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/tape"
)

// asker asks on a terminal, in a language.
type asker struct {
	*words
	in    *bufio.Scanner
	out   io.Writer
	ended bool
}

// ask asks for the leads that were set and for readings until an empty line. After each reading it
// says what to set so far.
func ask(in io.Reader, out io.Writer, say *words, d tape.Defaults, w tape.Wish) (*tape.Sheet, error) {
	a := &asker{words: say, in: bufio.NewScanner(in), out: out}
	fmt.Fprintf(out, "%s\n\n", wording.StandClearIn(say.Language))
	for _, m := range moves {
		if d.LeadS[m] == nil {
			d.LeadS[m] = a.askLead(m)
		}
	}
	fmt.Fprint(out, wording.Wrap("", "", a.Text("ask.how")))
	s := &tape.Sheet{}
	for !a.ended {
		text := a.line(a.Text("ask.reading", "n", len(s.Readings)+1))
		if text == "" {
			break
		}
		one, err := a.reading(text, d)
		if err != nil {
			said, _ := sentence.In(a.Language, err.Error())
			fmt.Fprintf(out, "  %s\n", said)
			continue
		}
		one.Row = len(s.Readings) + 1
		s.Readings = append(s.Readings, one)
		answer := tape.Find(s.Readings, w)
		fmt.Fprintf(out, "  %s\n", a.Text("ask.sofar", "line", a.leadLine(one.Move, answer.Of(one.Move))))
	}
	if len(s.Readings) == 0 {
		return nil, &failure.Usage{Msg: "no reading; expected one at least, as lift 8 24, or a FILE"}
	}
	fmt.Fprintln(out)
	return s, nil
}

// line asks one question; "" where the answer is empty or there is none any more.
func (a *asker) line(question string) string {
	fmt.Fprint(a.out, question+" ")
	if !a.in.Scan() {
		a.ended = true
		fmt.Fprintln(a.out)
		return ""
	}
	return strings.TrimSpace(a.in.Text())
}

// lead asks for a lead that was set; nil where nobody knows.
func (a *asker) askLead(m tape.Move) *float64 {
	for !a.ended {
		text := a.line(a.Text("ask.lead", "lead", a.lead(m)))
		if text == "" {
			return nil
		}
		if ms, err := tape.Number(text); err == nil && ms >= 0 && ms <= 10000 {
			s := ms / 1000
			return &s
		}
		fmt.Fprintf(a.out, "  %s\n", a.Text("ask.lead.wrong", "found", fmt.Sprintf("%q", text)))
	}
	return nil
}

// reading reads a line as a row of a file with three columns.
func (a *asker) reading(text string, d tape.Defaults) (tape.Reading, error) {
	fields := strings.Fields(strings.ReplaceAll(text, ";", " "))
	if len(fields) != 3 {
		return tape.Reading{}, errors.New(a.Text("ask.wrong", "found", fmt.Sprintf("%q", text)))
	}
	s, err := tape.Read(strings.NewReader("move;speed_kmh;late_cm\n"+strings.Join(fields, ";")+"\n"), "reading", d)
	if err != nil {
		why := err.Error()
		if _, after, found := strings.Cut(why, ":2: "); found {
			why, _, _ = strings.Cut(after, " (and so on")
		}
		return tape.Reading{}, errors.New(why)
	}
	return s.Readings[0], nil
}
