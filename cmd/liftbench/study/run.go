// A study while it runs: its journal, its progress when interrupted, and
// everything that its results depend on.

package study

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"runtime"
	"strconv"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/settings/bind"
	"liftbench/cmd/liftbench/terminal"
	"liftbench/cmd/liftbench/version"
	"liftbench/cmd/liftbench/wording"
	"liftbench/sim/sweep"
)

// JournalFile is what a sweep writes as it goes.
const JournalFile = "sweep.journal"

// Head returns the first entry of the study's journal, by which a later run
// recognises it.
func Head(c *settings.Study, u *settings.Setup, plan *sweep.Plan, shard sweep.Shard) (sweep.Head, error) {
	for i, key := range c.Show {
		if measureNumber(key) < 0 {
			return sweep.Head{}, c.Doc.ErrorAt(fmt.Sprintf("show[%d]", i), "show: unknown result %q; %s", key, bind.ExpectKey(key, measureNames()))
		}
	}
	h := sweep.Head{Title: c.Name, Program: version.String(), Processor: runtime.GOARCH, Plan: *plan, Shard: shard.String(), Measures: measureNames(), Show: c.Show}
	if h.Title == "" {
		h.Title = u.Title
	}
	// Everything that the results depend on.
	sum := sha256.New()
	text, err := json.Marshal(plan)
	if err != nil {
		return h, err
	}
	for _, part := range [][]byte{[]byte(h.Program), text, []byte(strconv.FormatFloat(c.ToleranceCm, 'g', -1, 64)), u.SettingText(filepath.ToSlash(u.FieldFile)), u.FieldData} {
		fmt.Fprintf(sum, "%d\n", len(part))
		sum.Write(part)
	}
	h.Study = fmt.Sprintf("%x", sum.Sum(nil)[:16])
	return h, nil
}

// Run runs the drives that are not in the journal in dir. If dir is empty there
// is no journal.
func Run(ctx context.Context, s *sweep.Study, head *sweep.Head, dir string, stderr io.Writer) ([]sweep.Row, error) {
	bar := terminal.NewDrivesBar(stderr)
	defer bar.Finish()
	s.Progress = bar.Show
	if dir == "" {
		rows, err := s.Run(ctx, nil, func(sweep.Row) error { return nil }, func() error { return nil })
		return rows, stopped(ctx, err, len(rows), s, "")
	}
	if err := files.MakeDir(dir); err != nil {
		return nil, err
	}
	path := filepath.Join(dir, JournalFile)
	j, done, err := sweep.OpenJournal(path, *head)
	if err != nil {
		return nil, &failure.Input{File: path, Msg: err.Error(), Err: err}
	}
	rows, err := s.Run(ctx, done, j.Write, j.Sync)
	if closeErr := j.Close(); err == nil && closeErr != nil {
		err = files.WriteError(path, "a journal", closeErr)
	}
	return rows, stopped(ctx, err, len(rows), s, path)
}

// stopped says how far an interrupted study has come.
func stopped(ctx context.Context, err error, done int, s *sweep.Study, journal string) error {
	var failed *sweep.BenchError
	switch {
	case err == nil:
		return nil
	case ctx.Err() != nil && errors.Is(err, context.Canceled):
		if journal == "" {
			return &failure.Usage{Msg: fmt.Sprintf("interrupted after %d of %s; with --out DIR it could go on", done, wording.Counted(s.Benches(), "drive"))}
		}
		return &failure.Usage{Msg: fmt.Sprintf("interrupted; %s of %d in %s, the same command goes on from there", wording.Counted(done, "drive"), s.Benches(), journal)}
	case errors.As(err, &failed):
		return &failure.Usage{Msg: "the drive of " + failed.Error()}
	}
	return err
}
