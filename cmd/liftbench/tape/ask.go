// Questions on a terminal, for who has the paper in hand and no spreadsheet.

package tape

import (
	"bufio"
	"fmt"
	"io"
	"strings"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/wording"
	"liftbench/replay/tape"
)

// asker asks on a terminal.
type asker struct {
	in    *bufio.Scanner
	out   io.Writer
	ended bool
}

// ask asks for the leads that were set and for readings until an empty line. After each reading it
// says what to set so far.
func ask(in io.Reader, out io.Writer, d tape.Defaults, w tape.Wish) (*tape.Sheet, error) {
	a := &asker{in: bufio.NewScanner(in), out: out}
	fmt.Fprintf(out, "%s\n\n", wording.StandClear)
	for _, m := range []tape.Move{tape.Lift, tape.Drop} {
		if d.LeadS[m] == nil {
			d.LeadS[m] = a.lead(m)
		}
	}
	fmt.Fprint(out, "Each reading: lift or drop, speed in km/h, late in cm (+ = beyond the flag line).\nAs: lift 8 24. An empty line ends.\n")
	s := &tape.Sheet{}
	for !a.ended {
		text := a.line(fmt.Sprintf("reading %d: ", len(s.Readings)+1))
		if text == "" {
			break
		}
		one, err := reading(text, d)
		if err != nil {
			fmt.Fprintf(out, "  %v\n", err)
			continue
		}
		one.Row = len(s.Readings) + 1
		s.Readings = append(s.Readings, one)
		answer := tape.Find(s.Readings, w)
		fmt.Fprintf(out, "  so far: %s\n", LeadLine(one.Move, answer.Of(one.Move)))
	}
	if len(s.Readings) == 0 {
		return nil, &failure.Usage{Msg: "no reading; expected one at least, as lift 8 24, or a FILE"}
	}
	fmt.Fprintln(out)
	return s, nil
}

// line asks one question; "" where the answer is empty or there is none any more.
func (a *asker) line(question string) string {
	fmt.Fprint(a.out, question)
	if !a.in.Scan() {
		a.ended = true
		fmt.Fprintln(a.out)
		return ""
	}
	return strings.TrimSpace(a.in.Text())
}

// lead asks for a lead that was set; nil where nobody knows.
func (a *asker) lead(m tape.Move) *float64 {
	for !a.ended {
		text := a.line(fmt.Sprintf("%s lead that is set, in ms (empty = not known): ", m))
		if text == "" {
			return nil
		}
		if ms, err := tape.Number(text); err == nil && ms >= 0 && ms <= 10000 {
			s := ms / 1000
			return &s
		}
		fmt.Fprintf(a.out, "  found %q; expected 0 to 10000\n", text)
	}
	return nil
}

// reading reads a line as a row of a file with three columns.
func reading(text string, d tape.Defaults) (tape.Reading, error) {
	fields := strings.Fields(strings.ReplaceAll(text, ";", " "))
	if len(fields) != 3 {
		return tape.Reading{}, fmt.Errorf("found %q; expected three things: lift or drop, km/h and cm, as lift 8 24", text)
	}
	s, err := tape.Read(strings.NewReader("move;speed_kmh;late_cm\n"+strings.Join(fields, ";")+"\n"), "reading", d)
	if err != nil {
		why := err.Error()
		if _, after, found := strings.Cut(why, ":2: "); found {
			why, _, _ = strings.Cut(after, " (and so on")
		}
		return tape.Reading{}, fmt.Errorf("%s", why)
	}
	return s.Readings[0], nil
}
