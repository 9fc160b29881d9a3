// The JSON Schemas against the decoder that reads the same tags.

package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
)

// validator reads schema and instance files and prints "valid" or the first
// error. Draft202012Validator of python3-jsonschema is the reference for
// JSON Schema draft 2020-12 (json-schema.org).
const validator = `
import json, sys
from jsonschema import Draft202012Validator
schema = json.load(open(sys.argv[1]))
Draft202012Validator.check_schema(schema)
for name in sys.argv[2:]:
    errors = sorted(e.message for e in Draft202012Validator(schema).iter_errors(json.load(open(name))))
    print(errors[0] if errors else "valid")
`

// pythonWith returns Debian's Python when it has the module.
func pythonWith(t *testing.T, module, debianPackage string) string {
	t.Helper()
	const python = "/usr/bin/python3"
	if err := exec.Command(python, "-c", "import "+module).Run(); err != nil {
		outside(t, python+" with "+module+" (Debian "+debianPackage+")")
	}
	return python
}

// TestSchemaAgreesWithTheDecoder: what the decoder takes validates, and what
// it refuses for its form (a key, a type, a range, a word) does not.
func TestSchemaAgreesWithTheDecoder(t *testing.T) {
	python := pythonWith(t, "jsonschema", "python3-jsonschema")
	dir := t.TempDir()
	save := func(name, yamlText string) string {
		data, err := yaml.YAMLToJSON([]byte(yamlText))
		if err != nil {
			t.Fatalf("%s: %v", name, err)
		}
		path := filepath.Join(dir, name+".json")
		if err := os.WriteFile(path, data, 0o644); err != nil {
			t.Fatal(err)
		}
		return path
	}
	// Errors between settings, and errors of YAML itself, are not in a schema.
	form := func(want string) bool {
		for _, s := range []string{"unknown key", "; expected a number", "; expected a whole number", "; expected one of", "; did you mean", "is missing; expected", "; expected true", "; expected auto", "; expected keys", "expected its number of rows"} {
			if strings.Contains(want, s) && !strings.Contains(want, "drawbar") && !strings.Contains(want, "divides the rows") {
				return true
			}
		}
		return false
	}
	for _, kind := range []string{"machine", "scenario"} {
		status, schema, stderr := command("", "check", "--schema", kind)
		if status != 0 {
			t.Fatal(stderr)
		}
		schemaFile := filepath.Join(dir, kind+".schema.json")
		if err := os.WriteFile(schemaFile, []byte(schema), 0o644); err != nil {
			t.Fatal(err)
		}
		names := []string{"demo"}
		files := []string{schemaFile, save(kind+"-demo", demoText(t, kind+".yaml"))}
		for _, c := range badSettings {
			if c.file != kind+".yaml" || !form(c.want) || strings.Contains(c.replacement, ".nan") || strings.Contains(c.replacement, ".inf") || strings.Contains(c.want, "programs read differently") {
				continue // JSON has neither NaN nor infinity, and no second spelling of a number
			}
			text, _ := edit(t, demoText(t, c.file), c.old, c.replacement)
			names = append(names, c.name)
			files = append(files, save(strings.ReplaceAll(c.name, " ", "-"), text))
		}
		if len(names) < 6 {
			t.Fatalf("%s: only %d files to validate", kind, len(names))
		}
		out, err := exec.Command(python, append([]string{"-c", validator}, files...)...).CombinedOutput()
		if err != nil {
			t.Fatalf("%v: %s", err, out)
		}
		lines := strings.Split(strings.TrimSpace(string(out)), "\n")
		if len(lines) != len(names) {
			t.Fatalf("%d answers for %d files: %s", len(lines), len(names), out)
		}
		for i, name := range names {
			if valid := lines[i] == "valid"; valid != (i == 0) {
				t.Errorf("%s, %s: the schema says %s", kind, name, lines[i])
			}
		}
	}
}

// TestSchemaTellsDefaults: an editor shows what holds when a key is left out.
func TestSchemaTellsDefaults(t *testing.T) {
	_, text, _ := command("", "check", "--schema", "machine")
	var schema struct {
		Schema     string `json:"$schema"`
		Required   []string
		Properties map[string]struct {
			Properties map[string]struct {
				Default     any
				Description string
			}
		}
	}
	if err := json.Unmarshal([]byte(text), &schema); err != nil {
		t.Fatal(err)
	}
	if schema.Schema != "https://json-schema.org/draft/2020-12/schema" {
		t.Errorf("draft %s", schema.Schema)
	}
	if got := strings.Join(schema.Required, " "); got != "mount tool rows sections" {
		t.Errorf("required %s", got)
	}
	c := schema.Properties["controller"].Properties
	if c["edge_rule"].Default != "even" || c["lift_lead"].Default != "auto" || c["tick_ms"].Default != 50.0 {
		t.Errorf("defaults %v, %v, %v", c["edge_rule"].Default, c["lift_lead"].Default, c["tick_ms"].Default)
	}
	if got := schema.Properties["rows"].Properties["spacing_m"].Description; !strings.HasSuffix(got, "[m]") {
		t.Errorf("spacing_m is described as %q, without its unit", got)
	}
}
