package web

import (
	"bytes"
	"compress/gzip"
	"encoding/json"
	"flag"
	"io/fs"
	"maps"
	"os"
	"testing"
)

var update = flag.Bool("update", false, "pack the page's files anew")

// What is packed into the program are the files of the folder page as they are.
func TestPacked(t *testing.T) {
	want := map[string]string{}
	folder := os.DirFS("page")
	err := fs.WalkDir(folder, ".", func(path string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		text, err := fs.ReadFile(folder, path)
		want[path] = string(text)
		return err
	})
	if err != nil {
		t.Fatal(err)
	}
	if *update {
		text, err := json.Marshal(want)
		if err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		z, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := z.Write(text); err != nil {
			t.Fatal(err)
		}
		if err := z.Close(); err != nil {
			t.Fatal(err)
		}
		if err := os.WriteFile("page.json.gz", b.Bytes(), 0o666); err != nil {
			t.Fatal(err)
		}
		return
	}
	if !maps.Equal(pageFiles(), want) {
		t.Error("page.json.gz does not hold the files under page as they are; run go test ./cmd/liftbench/web -run Packed -update")
	}
}
