// Command bundle packs one built program for a release: the program, the files that are
// named as arguments, and its bill of materials.
// The archive is a zip for Windows and a gzipped tar elsewhere. Its bytes follow from
// the files and from SOURCE_DATE_EPOCH alone.
package main

import (
	"archive/tar"
	"archive/zip"
	"bytes"
	"compress/gzip"
	"debug/buildinfo"
	"flag"
	"fmt"
	"io"
	"os"
	"path"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"
	"time"
)

// entry is one file of the archive.
type entry struct {
	name string // below the archive's one folder
	data []byte
	mode int64
}

func main() {
	version := flag.String("version", "", "of the release")
	commit := flag.String("commit", "", "that it was built from")
	program := flag.String("program", "", "the built program")
	out := flag.String("out", "", "the archive, without .zip or .tar.gz")
	flag.Parse()
	if err := bundle(*version, *commit, *program, *out, flag.Args()); err != nil {
		fmt.Fprintln(os.Stderr, "bundle:", err)
		os.Exit(1)
	}
}

func bundle(version, commit, program, out string, add []string) error {
	seconds, err := strconv.ParseInt(os.Getenv("SOURCE_DATE_EPOCH"), 10, 64)
	if err != nil {
		return fmt.Errorf("SOURCE_DATE_EPOCH: %w", err)
	}
	at := time.Unix(seconds, 0).UTC()
	info, err := buildinfo.ReadFile(program)
	if err != nil {
		return err
	}
	var entries []entry
	mode := int64(0o755) // of the program; the others are read alone
	for _, file := range append([]string{program}, add...) {
		data, err := os.ReadFile(file)
		if err != nil {
			return err
		}
		entries = append(entries, entry{filepath.Base(file), data, mode})
		mode = 0o644
	}
	bill, err := materials(info, version, commit, entries[0].data, at)
	if err != nil {
		return err
	}
	entries = append(entries, entry{"sbom.cdx.json", bill, 0o644})

	folder, pack, ending := filepath.Base(out), tarred, ".tar.gz"
	if setting(info, "GOOS") == "windows" {
		pack, ending = zipped, ".zip"
	}
	var archive bytes.Buffer
	if err := pack(&archive, folder, entries, at); err != nil {
		return err
	}
	if err := os.WriteFile(out+".cdx.json", bill, 0o644); err != nil {
		return err
	}
	return os.WriteFile(out+ending, archive.Bytes(), 0o644)
}

// setting returns a setting that the program was built with.
func setting(info *debug.BuildInfo, key string) string {
	for _, s := range info.Settings {
		if s.Key == key {
			return s.Value
		}
	}
	return ""
}

func tarred(w io.Writer, folder string, entries []entry, at time.Time) error {
	z, err := gzip.NewWriterLevel(w, gzip.BestCompression)
	if err != nil {
		return err
	}
	t := tar.NewWriter(z)
	for _, e := range entries {
		if err := t.WriteHeader(&tar.Header{Name: path.Join(folder, e.name), Mode: e.mode, Size: int64(len(e.data)), ModTime: at, Format: tar.FormatUSTAR}); err != nil {
			return err
		}
		if _, err := t.Write(e.data); err != nil {
			return err
		}
	}
	if err := t.Close(); err != nil {
		return err
	}
	return z.Close()
}

func zipped(w io.Writer, folder string, entries []entry, at time.Time) error {
	z := zip.NewWriter(w)
	for _, e := range entries {
		data := e.data
		if strings.HasSuffix(e.name, ".txt") || strings.HasSuffix(e.name, ".md") {
			data = bytes.ReplaceAll(data, []byte("\n"), []byte("\r\n")) // as every editor there shows it
		}
		f, err := z.CreateHeader(&zip.FileHeader{Name: path.Join(folder, e.name), Method: zip.Deflate, Modified: at})
		if err != nil {
			return err
		}
		if _, err := f.Write(data); err != nil {
			return err
		}
	}
	return z.Close()
}
