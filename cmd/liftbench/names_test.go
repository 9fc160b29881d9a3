package main

import (
	"archive/zip"
	"bytes"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
)

// texts are the attributes of task data in which people, farms, firms, places and products
// are named: designators, numbers that firms give, NAMEs and labels of devices (ISO 11783-10).
var texts = map[string]string{
	"ISO11783_TaskData": "ManagementSoftwareManufacturer ManagementSoftwareVersion TaskControllerManufacturer TaskControllerVersion",
	"PFD":               "B C", "PLN": "B", "LSG": "B", "PNT": "B", "GGP": "B", "GPN": "B",
	"TSK": "B", "DVC": "B C E F G", "DET": "D", "DPD": "E", "DPT": "D", "DVP": "E", "TLG": "B", "TZN": "B",
}

// strangers are elements that are not read, and name everybody.
const strangers = `<CTR A="CTR1" B="%[1]s-ctr-b" C="%[1]s-ctr-c" D="%[1]s-ctr-d" E="%[1]s-ctr-e" F="%[1]s" G="%[1]s" I="%[1]s" L="%[1]s"/>
<FRM A="FRM1" B="%[1]s-frm-b" C="%[1]s-frm-c" D="%[1]s-frm-d" E="%[1]s" F="%[1]s" G="%[1]s" I="CTR1"/>
<WKR A="WKR1" B="%[1]s-wkr-b" C="%[1]s-wkr-c" D="%[1]s" E="%[1]s" F="%[1]s" G="%[1]s"/>
<PDT A="PDT1" B="%[1]s-pdt"/><CTP A="CTP1" B="%[1]s-ctp"/><CVT A="CVT1" B="%[1]s-cvt"/><CCT A="CCT1" B="%[1]s-cct"/><CCG A="CCG1" B="%[1]s-ccg"/><OTQ A="OTQ1" B="%[1]s-otq"/><CPC A="CPC1" B="%[1]s-cpc"/>
<XFR A="%[1]s farm" B="1"/><%[1]s A="%[1]s">%[1]s</%[1]s>`

// planted returns a set with a name in each of its texts, and how often that is.
func planted(t *testing.T, set, name string) (out []byte, times int) {
	t.Helper()
	z, err := zip.OpenReader(set)
	if err != nil {
		t.Fatal(err)
	}
	defer z.Close()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	element := regexp.MustCompile(`<([A-Za-z0-9_]+)((?:\s+[A-Za-z]+="[^"]*")*)`)
	attribute := regexp.MustCompile(`\s+([A-Za-z]+)="[^"]*"`)
	for _, f := range z.File {
		r, err := f.Open()
		if err != nil {
			t.Fatal(err)
		}
		data, err := io.ReadAll(r)
		if err != nil {
			t.Fatal(err)
		}
		if strings.EqualFold(filepath.Base(f.Name), "TASKDATA.XML") {
			text := element.ReplaceAllStringFunc(string(data), func(s string) string {
				m := element.FindStringSubmatch(s)
				names := strings.Fields(texts[m[1]])
				if len(names) == 0 {
					return s
				}
				kept := attribute.ReplaceAllStringFunc(m[2], func(a string) string {
					for _, n := range names {
						if attribute.FindStringSubmatch(a)[1] == n {
							return ""
						}
					}
					return a
				})
				out := "<" + m[1] + kept
				for _, n := range names {
					times++
					out += fmt.Sprintf(` %s="%s-%s-%s"`, n, name, m[1], n)
				}
				return out
			})
			data = []byte(strings.Replace(text, "</ISO11783_TaskData>", fmt.Sprintf(strangers, name)+"</ISO11783_TaskData>", 1))
		}
		to, err := w.Create(f.Name)
		if err == nil {
			_, err = to.Write(data)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes(), times
}

// Names of people, farms, firms, fields and machines in task data are in no output of any command:
// neither printed nor written, nor in an error.
func TestNamesAreNobodysBusiness(t *testing.T) {
	t.Chdir(t.TempDir())
	const name = "Zzyzx"
	if status, _, errs := command("", "export", "--taskdata", "plain.zip"); status != 0 {
		t.Fatal(errs)
	}
	data, times := planted(t, "plain.zip", name)
	if times < 50 {
		t.Fatalf("%d names planted", times)
	}
	write := func(file string, data []byte) {
		if err := os.WriteFile(file, data, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	write("names.zip", data)
	write("cut.zip", data[:len(data)-100])
	for _, c := range []struct {
		args []string
		fine bool
	}{
		{[]string{"import", "--out", "imported", "names.zip"}, true},
		{[]string{"diagnose", "--out", "diagnosed", "names.zip"}, true},
		{[]string{"run", "--out", "ran", "names.zip"}, true},
		{[]string{"fixes", "--format", "csv", "names.zip"}, true},
		{[]string{"fixes", "--format", "json", "names.zip"}, true},
		{[]string{"diagnose", "--out", "again", "imported/day.yaml"}, true},
		{[]string{"check", "imported/day.yaml"}, true},
		{[]string{"zones", "--out", "zones", "names.zip"}, false}, // it has zones, or none show
		{[]string{"bench", "names.zip"}, false},
		{[]string{"diagnose", "--device", "DVC-77", "names.zip"}, false},
		{[]string{"diagnose", "--task", "TSK77", "names.zip"}, false},
		{[]string{"run", "--leave", "orchard", "names.zip"}, false},
		{[]string{"diagnose", "cut.zip"}, false},
	} {
		status, said, errs := command("", c.args...)
		if c.fine && status != 0 {
			t.Errorf("%v: %d %s", c.args, status, errs)
		}
		for what, text := range map[string]string{"stdout": said, "stderr": errs} {
			if k := strings.Index(strings.ToLower(text), strings.ToLower(name)); k >= 0 {
				t.Errorf("%v: %s names %q", c.args, what, text[max(0, k-60):min(len(text), k+60)])
			}
		}
	}
	files := 0
	err := filepath.WalkDir(".", func(path string, e fs.DirEntry, err error) error {
		if err != nil || e.IsDir() || path == "names.zip" || path == "cut.zip" {
			return err
		}
		files++
		text, err := os.ReadFile(path)
		if k := bytes.Index(bytes.ToLower(text), []byte(strings.ToLower(name))); k >= 0 {
			t.Errorf("%s names %q", path, text[max(0, k-60):min(len(text), k+60)])
		}
		return err
	})
	if err != nil || files < 12 {
		t.Errorf("%d files, %v", files, err)
	}
}
