// Files are written whole or not at all: to a temporary name in the same
// directory, then renamed.

package files

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"liftbench/cmd/liftbench/failure"
)

// File is one file to write: its name in the directory and what writes it.
type File struct {
	Name  string
	Write func(io.Writer) error
}

// probeName is the file that MakeDir makes and removes.
const probeName = ".liftbench-probe.tmp"

// MakeDir makes a directory for results and tests that a file can be made in
// it, so that no long work begins whose results cannot be kept.
func MakeDir(dir string) error {
	err := os.MkdirAll(dir, 0o777)
	if err == nil {
		// The name is always the same, so that the next run removes what a run
		// that was killed here has left; two runs at once may use it together.
		name := filepath.Join(dir, probeName)
		var probe *os.File
		if probe, err = os.OpenFile(name, os.O_WRONLY|os.O_CREATE, 0o666); err == nil {
			err = probe.Close()
			if removeErr := os.Remove(name); !errors.Is(removeErr, fs.ErrNotExist) {
				err = errors.Join(err, removeErr)
			}
		}
	}
	if err != nil {
		return WriteError(dir, "a directory for the results", err)
	}
	return nil
}

// WriteFresh is WriteDir for files that people go on to edit: if one of them
// exists with another content, none is written.
func WriteFresh(dir string, files []File) error {
	for _, f := range files {
		path := filepath.Join(dir, f.Name)
		there, err := os.ReadFile(path)
		if err != nil {
			continue // not there, or WriteDir will say why it cannot be
		}
		var fresh bytes.Buffer
		if err := f.Write(&fresh); err != nil {
			return err
		}
		if !bytes.Equal(there, fresh.Bytes()) {
			return &failure.Input{File: path, Msg: "is there already, with another content; expected a directory without it, so that nothing is lost"}
		}
	}
	return WriteDir(dir, files)
}

// WriteDir writes files into dir, which it creates. They are the set of one
// run: no file takes its name before every file is complete under a temporary
// name and those of an earlier run are gone, and only one liftbench at a time
// does this in a directory. So no interruption leaves files of two runs side by
// side, and no temporary file stays behind.
func WriteDir(dir string, files []File) error {
	if err := MakeDir(dir); err != nil {
		return err
	}
	unlock, err := lockDir(dir)
	if err != nil {
		return WriteError(dir, "a directory for the results", err)
	}
	defer unlock()
	temps := make([]string, 0, len(files))
	defer func() {
		for _, t := range temps {
			os.Remove(t)
		}
	}()
	paths := make([]string, len(files))
	for i, f := range files {
		if paths[i], _, err = destination(filepath.Join(dir, f.Name)); err != nil {
			return err
		}
		temp, err := writeTemp(paths[i], f.Write)
		if err != nil {
			return err
		}
		temps = append(temps, temp)
	}
	if err := removeAll(paths); err != nil {
		return err
	}
	for i, path := range paths {
		if err := os.Rename(temps[i], path); err != nil {
			return WriteError(path, "a file", err)
		}
	}
	temps = nil
	return nil
}

// removeAll removes the files of an earlier run, those of paths that there are: all of
// them, or none. One that cannot be removed, as another program has it open under
// Windows, is found before any is lost, since all first get temporary names.
func removeAll(paths []string) error {
	var aside []string // a temporary name for each path, "" where there was no file
	for i, path := range paths {
		name := tempName(path)
		err := os.Rename(path, name)
		switch {
		case err == nil:
		case errors.Is(err, fs.ErrNotExist):
			name = ""
		default:
			for k, back := range aside {
				if back != "" {
					err = errors.Join(err, os.Rename(back, paths[k]))
				}
			}
			return WriteError(paths[i], "a file", err)
		}
		aside = append(aside, name)
	}
	for _, name := range aside {
		if name != "" {
			os.Remove(name)
		}
	}
	return nil
}

// tempName returns a name beside path that removeLeftOver knows.
func tempName(path string) string {
	return filepath.Join(filepath.Dir(path), fmt.Sprintf(".%s.%08x.tmp", filepath.Base(path), rand.Uint32()))
}

// WriteWhole writes one file, compressed where its name ends in .gz.
func WriteWhole(path string, write func(io.Writer) error) error {
	if strings.HasSuffix(path, ".gz") {
		write = Zipped(write)
	}
	path, stream, err := destination(path)
	if err != nil {
		return err
	}
	if stream {
		return writeThrough(path, write)
	}
	temp, err := writeTemp(path, write)
	if err != nil {
		return err
	}
	if err := os.Rename(temp, path); err != nil {
		os.Remove(temp)
		return WriteError(path, "a file", err)
	}
	return nil
}

// Zipped compresses what write writes.
func Zipped(write func(io.Writer) error) func(io.Writer) error {
	return func(w io.Writer) error {
		z := gzip.NewWriter(w) // a header without name and time: same input, same bytes
		if err := write(z); err != nil {
			return err
		}
		return z.Close()
	}
}

// destination returns the file that path means: if path is a symbolic link, the
// file it points to, so that the link stays. stream reports that the file is a
// device or a FIFO, such as /dev/stdout, which is written to and not replaced.
// Anything else that is no regular file is refused.
func destination(path string) (file string, stream bool, err error) {
	if path == "" {
		return "", false, &failure.Input{File: `""`, Msg: "no name of a file; expected one to write to"}
	}
	info, err := os.Stat(path)
	if errors.Is(err, fs.ErrNotExist) {
		if target, err := os.Readlink(path); err == nil {
			return "", false, &failure.Input{File: path, Msg: fmt.Sprintf("is a link to %s, which does not exist; expected a file, or a link to one", target)}
		}
		return path, false, nil
	}
	if err != nil {
		return "", false, WriteError(path, "a file", err)
	}
	switch mode := info.Mode(); {
	case mode.IsRegular():
		if file, err = filepath.EvalSymlinks(path); err != nil {
			return "", false, WriteError(path, "a file", err)
		}
		return file, false, nil
	case mode&(fs.ModeCharDevice|fs.ModeNamedPipe) != 0:
		return path, true, nil
	case mode.IsDir():
		return "", false, WriteError(path, "a file", syscall.EISDIR)
	default:
		return "", false, &failure.Input{File: path, Msg: fmt.Sprintf("is no regular file (%s); expected a file, a FIFO or a character device", mode.Type())}
	}
}

// writeThrough writes to a device or a FIFO.
func writeThrough(path string, write func(io.Writer) error) error {
	f, err := os.OpenFile(path, os.O_WRONLY, 0)
	if err != nil {
		return WriteError(path, "a stream", err)
	}
	buffered := bufio.NewWriterSize(f, 1<<16)
	err = errors.Join(write(buffered), buffered.Flush())
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		return WriteError(path, "a stream", err)
	}
	return nil
}

// writeTemp writes the content of path to a temporary file beside it, syncs it
// to the disk, and returns its name. After an error nothing is left. The file
// has the permissions of the one it is to replace, or those of any new file.
func writeTemp(path string, write func(io.Writer) error) (string, error) {
	removeLeftOver(path)
	mode, keep := fs.FileMode(0o666), false
	if info, err := os.Stat(path); err == nil {
		mode, keep = info.Mode().Perm(), true
	}
	var f *os.File
	var err error
	for range 100 {
		if f, err = os.OpenFile(tempName(path), os.O_WRONLY|os.O_CREATE|os.O_EXCL, mode); !errors.Is(err, fs.ErrExist) {
			break
		}
	}
	if err != nil {
		return "", WriteError(path, "a file in a directory that exists", err)
	}
	buffered := bufio.NewWriterSize(f, 1<<16)
	err = errors.Join(write(buffered), buffered.Flush())
	if keep {
		err = errors.Join(err, f.Chmod(mode))
	}
	if err == nil {
		err = f.Sync()
	}
	if closeErr := f.Close(); err == nil {
		err = closeErr
	}
	if err != nil {
		os.Remove(f.Name())
		return "", WriteError(path, "a file", err)
	}
	return f.Name(), nil
}

// leftOverAge is longer than any file takes to be written.
const leftOverAge = time.Hour

// removeLeftOver removes temporary files of path that a killed process left
// behind.
func removeLeftOver(path string) {
	entries, err := os.ReadDir(filepath.Dir(path))
	if err != nil {
		return // writing will say why
	}
	for _, e := range entries {
		middle, ok := strings.CutPrefix(e.Name(), "."+filepath.Base(path)+".")
		if middle, isTemp := strings.CutSuffix(middle, ".tmp"); !ok || !isTemp || strings.ContainsRune(middle, '.') {
			continue
		}
		if info, err := e.Info(); err == nil && info.Mode().IsRegular() && time.Since(info.ModTime()) > leftOverAge {
			os.Remove(filepath.Join(filepath.Dir(path), e.Name()))
		}
	}
}

// WriteError says in a sentence why path could not be written.
func WriteError(path, what string, err error) error {
	var reason string
	switch {
	case openElsewhere(path, err):
		reason = "another program has it open; close it there, and write again"
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
	return &failure.Input{File: path, Msg: fmt.Sprintf("cannot be written as %s: %s", what, reason), Err: err}
}
