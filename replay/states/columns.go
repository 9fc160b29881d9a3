// The heading line: what separates columns, and which is which.

package states

import (
	"bufio"
	"bytes"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"
)

// separator tells from the first line what separates columns. A line that says so itself, as
// sep=; does for spreadsheets, is skipped, and counted in before.
func separator(br *bufio.Reader) (comma rune, before int) {
	head, _ := br.Peek(maxRowBytes)
	line, _, ended := bytes.Cut(head, []byte("\n"))
	if said := bytes.TrimSuffix(line, []byte("\r")); ended && len(said) > 4 && bytes.EqualFold(said[:4], []byte("sep=")) {
		if r, size := utf8.DecodeRune(said[4:]); size == len(said)-4 && strings.ContainsRune(",;\t", r) {
			br.Discard(len(line) + 1)
			return r, 1
		}
	}
	inQuotes := false
	counts := map[byte]int{}
	for _, c := range line {
		if c == '"' {
			inQuotes = !inQuotes
		}
		if !inQuotes {
			counts[c]++
		}
	}
	comma = ','
	for _, c := range []rune{';', '\t'} {
		if counts[byte(c)] > counts[byte(comma)] {
			comma = c
		}
	}
	return comma, 0
}

// columns are the positions of the columns; -1 = absent.
type columns struct {
	date, time, section int
	withinMs, clock     int
	states              []stateColumn // one at least
}

// stateColumn is a column of states.
type stateColumn struct {
	at       int
	name     string // for errors
	section  int    // whose states they are, from 1; 0 = as the row says
	setpoint bool   // else actual
}

// sectionName is the heading of a section's column, without case, spaces, dots, hyphens and underscores.
var sectionName = regexp.MustCompile(`^(setpoint|actual)?(?:section|sect|sec)?(\d{1,5})(setpoint|actual)?$`)

func findColumns(head []string, n int) (columns, error) {
	col := columns{date: -1, time: -1, section: -1, withinMs: -1, clock: -1}
	wide := false
	seen := map[string]bool{}
	for i, h := range head {
		name := strings.ToLower(strings.TrimSpace(h))
		plain := strings.NewReplacer(" ", "", "_", "", "-", "", ".", "").Replace(name)
		known := name
		switch name {
		case "date":
			col.date = i
		case "time":
			col.time = i
		case "section":
			col.section = i
		case "within_ms":
			col.withinMs = i
		case "clock":
			col.clock = i
		case "setpoint", "actual":
			col.states = append(col.states, stateColumn{at: i, name: name, setpoint: name == "setpoint"})
		default:
			m := sectionName.FindStringSubmatch(plain)
			if m == nil || m[2] == plain || m[1] != "" && m[3] != "" {
				continue // a number alone says too little
			}
			number, err := strconv.Atoi(m[2])
			if err != nil || number < 1 || number > n {
				return col, fmt.Errorf("column %s; this machine has sections 1 to %d", quoted(h), n)
			}
			wide = true
			c := stateColumn{at: i, name: fmt.Sprintf("column %s:", quoted(strings.TrimSpace(h))), section: number, setpoint: m[1]+m[3] == "setpoint"}
			col.states = append(col.states, c)
			known = fmt.Sprint(number, c.setpoint)
		}
		if seen[known] {
			return col, fmt.Errorf("two columns named %s", quoted(h))
		}
		seen[known] = true
	}
	if col.time < 0 || len(col.states) == 0 || !wide && col.section < 0 {
		return col, fmt.Errorf("found the columns %s; expected time, section and setpoint or actual", quoted(strings.Join(head, ",")))
	}
	if wide && (col.section >= 0 || seen["setpoint"] || seen["actual"]) {
		return col, fmt.Errorf("found the columns %s; expected either time, section and setpoint or actual, or time and a column for each section", quoted(strings.Join(head, ",")))
	}
	return col, nil
}
