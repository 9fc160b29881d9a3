// The flags of a command that can write an acceptance sheet.

package acceptance

import (
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/language"
	"liftbench/cmd/liftbench/settings"
)

// Wanted holds the flags.
type Wanted struct {
	File     string // of the sheet; empty = none is wanted
	FromFile string // the sheet file
	Lang     string // empty = English

	language language.Language
	details  *settings.Acceptance
}

// Check checks the flags and reads the sheet file, before any work is done.
func (w *Wanted) Check() error {
	var err error
	if w.Lang != "" {
		if w.language, err = language.Parse(w.Lang); err != nil {
			return &failure.Usage{Msg: "--lang: " + err.Error()}
		}
	}
	if w.FromFile == "" {
		w.details = settings.DefaultAcceptance()
		return nil
	}
	if w.File == "" {
		return &failure.Usage{Msg: "--sheet-file: expected it with --sheet"}
	}
	w.details, err = settings.LoadAcceptance(w.FromFile)
	return err
}

// Language returns the language that Check found.
func (w *Wanted) Language() language.Language { return w.language }

// Write writes the sheet, if one is wanted.
func (w *Wanted) Write(s *Sheet) error {
	if w.File == "" {
		return nil
	}
	s.Language, s.Details = w.language, w.details
	return files.WriteWhole(w.File, s.Write)
}

// WriteOf writes the sheet that make returns, if one is wanted.
func (w *Wanted) WriteOf(make func() *Sheet) error {
	if w.File == "" {
		return nil
	}
	return w.Write(make())
}
