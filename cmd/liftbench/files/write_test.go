//go:build linux

// What output files replace, and what they leave alone.

package files

import (
	"io"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"syscall"
	"testing"
	"time"
)

func hello(w io.Writer) error {
	_, err := io.WriteString(w, "hello")
	return err
}

// A link stays a link, and what it points to gets the content.
func TestWriteThroughALink(t *testing.T) {
	dir := t.TempDir()
	target, link := filepath.Join(dir, "target.csv"), filepath.Join(dir, "link.csv")
	if err := os.WriteFile(target, []byte("old"), 0o600); err != nil {
		t.Fatal(err)
	}
	if err := os.Symlink("target.csv", link); err != nil {
		t.Fatal(err)
	}
	for _, write := range []func() error{
		func() error { return WriteWhole(link, hello) },
		func() error { return WriteDir(dir, []File{{Name: "link.csv", Write: hello}}) },
	} {
		if err := write(); err != nil {
			t.Fatal(err)
		}
		if to, err := os.Readlink(link); err != nil || to != "target.csv" {
			t.Errorf("the link points to %q, %v", to, err)
		}
		if data, _ := os.ReadFile(target); string(data) != "hello" {
			t.Errorf("the target holds %q", data)
		}
		if info, _ := os.Stat(target); info.Mode().Perm() != 0o600 {
			t.Errorf("the target has mode %v; want that of before, 0600", info.Mode())
		}
		os.WriteFile(target, []byte("old"), 0o600)
	}
	if err := os.Symlink("nowhere", filepath.Join(dir, "lost.csv")); err != nil {
		t.Fatal(err)
	}
	if err := WriteWhole(filepath.Join(dir, "lost.csv"), hello); err == nil || !strings.Contains(err.Error(), "link to nowhere") {
		t.Errorf("a link to nothing: %v", err)
	}
}

// A FIFO and a character device are written to and stay what they are.
func TestWriteToAStream(t *testing.T) {
	fifo := filepath.Join(t.TempDir(), "fifo")
	if err := syscall.Mkfifo(fifo, 0o600); err != nil {
		t.Fatal(err)
	}
	got := make(chan string)
	go func() {
		data, _ := os.ReadFile(fifo)
		got <- string(data)
	}()
	if err := WriteWhole(fifo, hello); err != nil {
		t.Fatal(err)
	}
	if x := <-got; x != "hello" {
		t.Errorf("the FIFO gave %q", x)
	}
	if err := WriteWhole(os.DevNull, hello); err != nil {
		t.Fatal(err)
	}
	for _, path := range []string{fifo, os.DevNull} {
		if info, err := os.Lstat(path); err != nil || info.Mode().IsRegular() {
			t.Fatalf("%s was replaced by a file", path)
		}
	}
}

// What is neither file nor stream, and no name at all, is refused.
func TestWriteRefuses(t *testing.T) {
	for path, want := range map[string]string{"": "no name of a file", t.TempDir(): "a directory stands there"} {
		if err := WriteWhole(path, hello); err == nil || !strings.Contains(err.Error(), want) {
			t.Errorf("%q: %v; want %q", path, err, want)
		}
	}
}

// New files have the permissions that the user's mask leaves.
func TestWriteKeepsTheMask(t *testing.T) {
	defer syscall.Umask(syscall.Umask(0o027))
	path := filepath.Join(t.TempDir(), "a.csv")
	if err := WriteWhole(path, hello); err != nil {
		t.Fatal(err)
	}
	if info, _ := os.Stat(path); info.Mode().Perm() != 0o640 {
		t.Errorf("mode %v; want 0640 with a mask of 027", info.Mode())
	}
}

// Temporary files that a killed process left go with the next file of that
// name; those of a process that writes now stay, and other files.
func TestWriteRemovesWhatWasLeft(t *testing.T) {
	dir := t.TempDir()
	for name, age := range map[string]time.Duration{".a.csv.0011aabb.tmp": 2 * time.Hour, ".a.csv.22334455.tmp": time.Minute, ".b.csv.0011aabb.tmp": 2 * time.Hour, ".a.csv.my.notes.tmp": 2 * time.Hour} {
		path := filepath.Join(dir, name)
		if err := os.WriteFile(path, nil, 0o644); err != nil {
			t.Fatal(err)
		}
		then := time.Now().Add(-age)
		if err := os.Chtimes(path, then, then); err != nil {
			t.Fatal(err)
		}
	}
	if err := WriteWhole(filepath.Join(dir, "a.csv"), hello); err != nil {
		t.Fatal(err)
	}
	entries, _ := os.ReadDir(dir)
	var names []string
	for _, e := range entries {
		names = append(names, e.Name())
	}
	if got, want := strings.Join(names, " "), ".a.csv.22334455.tmp .a.csv.my.notes.tmp .b.csv.0011aabb.tmp a.csv"; got != want {
		t.Errorf("the folder holds %s; want %s", got, want)
	}
}

// setOf is a set of files that all hold text.
func setOf(text string) []File {
	var set []File
	for _, name := range []string{"a.csv", "b.json", "c.html", "d.svg"} {
		set = append(set, File{name, func(w io.Writer) error { _, err := io.WriteString(w, text); return err }})
	}
	return set
}

// contents are what the files of a directory hold, each text once.
func contents(t *testing.T, dir string) []string {
	t.Helper()
	entries, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var texts []string
	for _, e := range entries {
		data, err := os.ReadFile(filepath.Join(dir, e.Name()))
		if err == nil && !slices.Contains(texts, string(data)) {
			texts = append(texts, string(data))
		}
	}
	return texts
}

// The files of a set are of one run: where several write at once, and where
// writing breaks off halfway.
func TestASetIsOfOneRun(t *testing.T) {
	dir := t.TempDir()
	for range 20 {
		var all sync.WaitGroup
		for _, text := range []string{"one", "two", "three"} {
			all.Go(func() {
				if err := WriteDir(dir, setOf(text)); err != nil {
					t.Error(err)
				}
			})
		}
		all.Wait()
		if texts := contents(t, dir); len(texts) != 1 {
			t.Fatalf("the directory holds files of %q", texts)
		}
	}
	if err := WriteDir(dir, setOf("old")); err != nil {
		t.Fatal(err)
	}
	// The third file's place goes while the fourth is written.
	elsewhere := filepath.Join(dir, "elsewhere")
	if err := os.Mkdir(elsewhere, 0o777); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(elsewhere, "c.html"), []byte("old"), 0o666); err != nil {
		t.Fatal(err)
	}
	os.Remove(filepath.Join(dir, "c.html"))
	if err := os.Symlink(filepath.Join(elsewhere, "c.html"), filepath.Join(dir, "c.html")); err != nil {
		t.Fatal(err)
	}
	set := setOf("new")
	set[3].Write = func(io.Writer) error { return os.RemoveAll(elsewhere) }
	if err := WriteDir(dir, set); err == nil {
		t.Error("a file whose place has gone was written")
	}
	if texts := contents(t, dir); !slices.Equal(texts, []string{"new"}) {
		t.Errorf("what broke off halfway left files of %q", texts)
	}
}

// A directory in which no file can be made is told at once.
func TestMakeDirTries(t *testing.T) {
	if err := MakeDir("/proc/self"); err == nil {
		t.Error("a directory that takes no file was taken")
	}
	dir := filepath.Join(t.TempDir(), "a", "b")
	if err := MakeDir(dir); err != nil {
		t.Fatal(err)
	}
	if entries, err := os.ReadDir(dir); err != nil || len(entries) != 0 {
		t.Errorf("it holds %v, %v", entries, err)
	}
}
