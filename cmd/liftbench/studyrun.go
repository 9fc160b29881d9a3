// A study that runs: its journal, where it stands when interrupted, and on what its results hang.

package main

import (
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strconv"

	"liftbench/sim/sweep"
)

// journalFile is what a sweep writes as it goes.
const journalFile = "sweep.journal"

// head is what the study's journal begins with.
func (c *studyConfig) head(u *setup, plan *sweep.Plan, shard sweep.Shard) (sweep.Head, error) {
	for i, key := range c.Show {
		if measureNumber(key) < 0 {
			return sweep.Head{}, c.doc.errorAt(fmt.Sprintf("show[%d]", i), "show: unknown result %q; %s", key, expectKey(key, measureNames()))
		}
	}
	h := sweep.Head{Title: c.Name, Plan: *plan, Shard: shard.String(), Measures: measureNames(), Show: c.Show}
	if h.Title == "" {
		h.Title = u.title
	}
	// Everything that the results hang on.
	sum := sha256.New()
	text, err := json.Marshal(plan)
	if err != nil {
		return h, err
	}
	for _, part := range [][]byte{[]byte(version()), text, []byte(strconv.FormatFloat(c.ToleranceCm, 'g', -1, 64)), u.settingText(u.fieldFile), u.fieldData} {
		fmt.Fprintf(sum, "%d\n", len(part))
		sum.Write(part)
	}
	h.Study = fmt.Sprintf("%x", sum.Sum(nil)[:16])
	return h, nil
}

// runStudy runs what is left of a study, with its journal in dir, or without
// one where dir is empty.
func runStudy(ctx context.Context, s *sweep.Study, head *sweep.Head, dir string, stderr io.Writer) ([]sweep.Row, error) {
	bar := newBenchBar(stderr)
	defer bar.finish()
	s.Progress = bar.show
	if dir == "" {
		rows, err := s.Run(ctx, nil, func(sweep.Row) error { return nil }, func() error { return nil })
		return rows, stopped(ctx, err, len(rows), s, "")
	}
	if err := makeDir(dir); err != nil {
		return nil, err
	}
	path := filepath.Join(dir, journalFile)
	j, done, err := sweep.OpenJournal(path, *head)
	if err != nil {
		return nil, &inputError{file: path, msg: err.Error(), err: err}
	}
	rows, err := s.Run(ctx, done, j.Write, j.Sync)
	if closeErr := j.Close(); err == nil && closeErr != nil {
		err = writeError(path, "a journal", closeErr)
	}
	return rows, stopped(ctx, err, len(rows), s, path)
}

// stopped says where an interrupted study stands.
func stopped(ctx context.Context, err error, done int, s *sweep.Study, journal string) error {
	var failed *sweep.BenchError
	switch {
	case err == nil:
		return nil
	case ctx.Err() != nil && errors.Is(err, context.Canceled):
		if journal == "" {
			return &usageError{fmt.Sprintf("interrupted after %d of %s; with --out DIR it could go on", done, counted(s.Benches(), "drive"))}
		}
		return &usageError{fmt.Sprintf("interrupted; %s of %d in %s, the same command goes on from there", counted(done, "drive"), s.Benches(), journal)}
	case errors.As(err, &failed):
		return &usageError{"the drive of " + failed.Error()}
	}
	return err
}
