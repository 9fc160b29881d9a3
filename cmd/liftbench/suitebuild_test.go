//go:build unix

// The examples of the suite's README: the workflow and the Makefile, as far as they run here.

package main

import (
	"encoding/xml"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/goccy/go-yaml"
)

// block is the text of the only block of a language in a Markdown file.
func block(t *testing.T, markdown, language string) string {
	t.Helper()
	parts := strings.Split(markdown, "```"+language+"\n")
	if len(parts) != 2 {
		t.Fatalf("%d blocks of %s; want 1", len(parts)-1, language)
	}
	text, _, _ := strings.Cut(parts[1], "```")
	return text
}

// The workflow is YAML of the form that GitHub documents for one (names from memory), and
// its commands run, as do the Makefile's, with our controller and one drive in place of
// all: they pass, the second accepts the first; a controller without leads fails.
func TestSuiteInABuild(t *testing.T) {
	if _, err := exec.LookPath("make"); err != nil {
		outside(t, "make (Debian make)")
	}
	readme := string(readFile(t, "suite", "README.md"))
	dir, self := t.TempDir(), ""
	var err error
	if self, err = os.Executable(); err != nil {
		t.Fatal(err)
	}
	if err := os.Mkdir(filepath.Join(dir, "bin"), 0o755); err != nil {
		t.Fatal(err)
	}
	// make has a rule of its own that makes a program of a shell script.
	script := func(name, text string) {
		if err := os.WriteFile(filepath.Join(dir, name), []byte("#!/bin/sh\n"+text+"\n"), 0o755); err != nil {
			t.Fatal(err)
		}
	}
	script("bin/liftbench", asVariable+"=liftbench exec '"+self+`' "$@" --shard 6/41`)
	script("controller.sh", "exec "+controller(t, "own")+` "$LIFTBENCH_SCENARIO"`)
	if err := os.WriteFile(filepath.Join(dir, "Makefile"), []byte(block(t, readme, "make")), 0o644); err != nil {
		t.Fatal(err)
	}
	do := func(command string) (string, error) {
		cmd := exec.Command("bash", "-e", "-c", command)
		cmd.Dir = dir
		cmd.Env = append(os.Environ(), "PATH="+filepath.Join(dir, "bin")+":"+os.Getenv("PATH"), "GITHUB_STEP_SUMMARY="+filepath.Join(dir, "summary.md"))
		out, err := cmd.CombinedOutput()
		return string(out), err
	}
	for _, target := range []string{"accept", "check"} {
		if out, err := do("make " + target); err != nil {
			t.Fatalf("make %s: %v\n%s", target, err, out)
		}
	}

	var workflow struct {
		On   []string `yaml:"on"`
		Jobs map[string]struct {
			RunsOn string `yaml:"runs-on"`
			Steps  []struct {
				Uses string            `yaml:"uses"`
				Run  string            `yaml:"run"`
				If   string            `yaml:"if"`
				With map[string]string `yaml:"with"`
			} `yaml:"steps"`
		} `yaml:"jobs"`
	}
	if err := yaml.UnmarshalWithOptions([]byte(block(t, readme, "yaml")), &workflow, yaml.Strict()); err != nil {
		t.Fatal(err)
	}
	job := workflow.Jobs["sections"]
	if len(workflow.On) == 0 || len(workflow.Jobs) != 1 || job.RunsOn == "" || len(job.Steps) < 3 {
		t.Fatalf("%+v", workflow)
	}
	ran, uploaded := 0, false
	for i, s := range job.Steps {
		if (s.Uses == "") == (s.Run == "") {
			t.Errorf("step %d: expected one of uses and run: %+v", i+1, s)
		}
		if s.Run != "" {
			ran++
			if out, err := do(s.Run); err != nil {
				t.Errorf("%s: %v\n%s", s.Run, err, out)
			}
		}
		if path := s.With["path"]; path != "" {
			uploaded = true
			var report struct {
				Tests int `xml:"tests,attr"`
			}
			if err := xml.Unmarshal(readFile(t, dir, path), &report); err != nil || report.Tests < 2 {
				t.Errorf("%s: %v, %d cases; want that of a drive and of the baseline", path, err, report.Tests)
			}
		}
	}
	if ran < 2 || !uploaded {
		t.Errorf("%d commands ran, a report was uploaded: %v", ran, uploaded)
	}
	if summary := string(readFile(t, dir, "summary.md")); !strings.Contains(summary, "| closed-form | 1 of 1 |") || !strings.Contains(summary, "the same") {
		t.Error(summary)
	}

	script("controller.sh", "exec "+controller(t, "c"))
	if out, err := do("make -B check"); err == nil || !strings.Contains(out, "worse than the baseline") {
		t.Errorf("a controller without leads: %v\n%s", err, out)
	}
}
