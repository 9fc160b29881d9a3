// The tables of liftbench help files against the schemas of the same files.

package main

import (
	"encoding/json"
	"fmt"
	"strings"
	"testing"

	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/settings/bind"
)

// tablesOf returns the rows of a help text by the path of their key; a line
// that goes on below the meaning belongs to the row above it.
func tablesOf(text string) map[string]string {
	rows := map[string]string{}
	group, row := "", ""
	for _, line := range strings.Split(text, "\n") {
		switch {
		case strings.HasPrefix(line, "   "):
			rows[row] += " " + strings.TrimSpace(line)
		case strings.HasPrefix(line, "  "):
			row = group + strings.Fields(line)[0]
			rows[row] = strings.TrimSpace(line)
		default:
			if path, _, ok := strings.Cut(line, ": "); ok {
				group = path + "."
				rows[path] = line
			}
		}
	}
	return rows
}

// TestHelpFilesHoldsEveryKey: each key that an editor is told of by the schema
// stands in its table with the same meaning, unit, range and default.
func TestHelpFilesHoldsEveryKey(t *testing.T) {
	for _, kind := range []string{"machine", "scenario", "study", "sheet"} {
		status, text, stderr := command("", "help", "files", kind)
		if status != 0 {
			t.Fatal(stderr)
		}
		rows := tablesOf(text)
		_, schemaText, _ := command("", "check", "--schema", kind)
		var schema map[string]any
		if err := json.Unmarshal([]byte(schemaText), &schema); err != nil {
			t.Fatal(err)
		}
		keys := 0
		var visit func(path string, s map[string]any)
		visit = func(path string, s map[string]any) {
			properties, _ := s["properties"].(map[string]any)
			for key, p := range properties {
				at, p := path+key, p.(map[string]any)
				items, _ := p["items"].(map[string]any)
				if items["properties"] != nil {
					at, p = at+"[]", items
				}
				keys++
				row, ok := rows[at]
				if !ok {
					t.Errorf("%s: %s is in the schema and in no table", kind, at)
					continue
				}
				if p["properties"] != nil {
					visit(at+".", p)
					continue
				}
				want := []string{}
				doc, _ := p["description"].(string)
				if doc, unit, ok := strings.Cut(doc, " ["); ok && strings.HasSuffix(unit, "]") && !strings.Contains(unit, ",") {
					want = append(want, doc, strings.TrimSuffix(unit, "]"))
				} else {
					want = append(want, doc)
				}
				for _, bound := range []string{"minimum", "maximum", "exclusiveMinimum", "exclusiveMaximum", "default"} {
					switch x := p[bound].(type) {
					case float64:
						want = append(want, bind.PlainNumber(x))
					case string, bool:
						want = append(want, fmt.Sprint(x))
					}
				}
				for _, w := range want {
					if !strings.Contains(row, w) {
						t.Errorf("%s: the row of %s lacks %q: %s", kind, at, w, row)
					}
				}
			}
		}
		visit("", schema)
		if least := map[string]int{"machine": 50, "scenario": 60, "study": 14, "sheet": 29}[kind]; keys < least {
			t.Errorf("%s: compared %d keys; expected at least %d", kind, keys, least)
		}
	}
}

// TestHelpFilesKinds: without a kind all tables are printed, with one it alone.
func TestHelpFilesKinds(t *testing.T) {
	_, all, _ := command("", "help", "files")
	for _, k := range settings.FileKinds {
		_, one, _ := command("", "help", "files", k.Name)
		if !strings.HasPrefix(one, k.Short+"\n") || !strings.Contains(all, one) || len(one) == len(all) {
			t.Errorf("help files %s is no part of help files: %.80q", k.Name, one)
		}
	}
	for _, key := range []string{"zone", "row_bearing_deg", "name", "time", "section", "setpoint", "actual"} {
		if !strings.Contains(all, "\n  "+key+" ") {
			t.Errorf("%s has no row", key)
		}
	}
}
