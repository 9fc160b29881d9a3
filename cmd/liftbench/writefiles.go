// Files are written whole or not at all: to a temporary name in the same
// directory, then renamed.

package main

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
)

// outFile is one file to write: its name in the directory and what writes it.
type outFile struct {
	name  string
	write func(io.Writer) error
}

// makeDir makes a directory for results: where work takes long, before it
// begins.
func makeDir(dir string) error {
	if err := os.MkdirAll(dir, 0o777); err != nil {
		return writeError(dir, "a directory for the results", err)
	}
	return nil
}

// writeFresh is writeDir for files that people go on to change: one that is
// there with another content is left alone, and so are all.
func writeFresh(dir string, files []outFile) error {
	for _, f := range files {
		path := filepath.Join(dir, f.name)
		there, err := os.ReadFile(path)
		if err != nil {
			continue // not there, or writeDir will say why it cannot be
		}
		var fresh bytes.Buffer
		if err := f.write(&fresh); err != nil {
			return err
		}
		if !bytes.Equal(there, fresh.Bytes()) {
			return &inputError{file: path, msg: "is there already, with another content; expected a directory without it, so that nothing is lost"}
		}
	}
	return writeDir(dir, files)
}

// writeDir writes files into dir, which it creates. Every file is complete
// under a temporary name before the first takes its own, and no temporary file
// stays behind.
func writeDir(dir string, files []outFile) error {
	if err := makeDir(dir); err != nil {
		return err
	}
	temps := make([]string, 0, len(files))
	defer func() {
		for _, t := range temps {
			os.Remove(t)
		}
	}()
	for _, f := range files {
		temp, err := writeTemp(filepath.Join(dir, f.name), f.write)
		if err != nil {
			return err
		}
		temps = append(temps, temp)
	}
	for i, f := range files {
		path := filepath.Join(dir, f.name)
		if err := os.Rename(temps[i], path); err != nil {
			return writeError(path, "a file", err)
		}
	}
	temps = nil
	return nil
}

// writeWhole writes one file, compressed where its name ends in .gz.
func writeWhole(path string, write func(io.Writer) error) error {
	if strings.HasSuffix(path, ".gz") {
		write = zipped(write)
	}
	temp, err := writeTemp(path, write)
	if err != nil {
		return err
	}
	if err := os.Rename(temp, path); err != nil {
		os.Remove(temp)
		return writeError(path, "a file", err)
	}
	return nil
}

// zipped compresses what write writes.
func zipped(write func(io.Writer) error) func(io.Writer) error {
	return func(w io.Writer) error {
		z := gzip.NewWriter(w) // a header without name and time: same input, same bytes
		if err := write(z); err != nil {
			return err
		}
		return z.Close()
	}
}

// writeTemp writes the content of path under a temporary name beside it and
// returns that name; on an error nothing is left.
func writeTemp(path string, write func(io.Writer) error) (string, error) {
	f, err := os.CreateTemp(filepath.Dir(path), "."+filepath.Base(path)+".*.tmp")
	if err != nil {
		return "", writeError(path, "a file in a directory that exists", err)
	}
	buffered := bufio.NewWriterSize(f, 1<<16)
	err = write(buffered)
	err = errors.Join(err, buffered.Flush())
	err = errors.Join(err, f.Chmod(0o644))
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		os.Remove(f.Name())
		return "", writeError(path, "a file", err)
	}
	return f.Name(), nil
}

// writeError says in a sentence why path could not be written.
func writeError(path, what string, err error) error {
	var reason string
	switch {
	case errors.Is(err, fs.ErrNotExist):
		reason = "its directory does not exist"
	case errors.Is(err, fs.ErrPermission):
		reason = "not allowed"
	case errors.Is(err, syscall.ENOTDIR), errors.Is(err, fs.ErrExist):
		reason = "a file stands where a directory is expected"
	case errors.Is(err, syscall.EISDIR):
		reason = "a directory stands there"
	case errors.Is(err, syscall.ENOSPC):
		reason = "no space left"
	default:
		reason = err.Error()
	}
	return &inputError{file: path, msg: fmt.Sprintf("cannot be written as %s: %s", what, reason), err: err}
}
