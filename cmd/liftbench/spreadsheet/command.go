// Package spreadsheet writes CSV as the spreadsheet programs of a language open it by a
// double click: columns, decimal mark and umlauts as they expect them.
package spreadsheet

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/language"
)

// NewCommand returns liftbench spreadsheet.
func NewCommand() *cobra.Command {
	lang := "en"
	cmd := &cobra.Command{
		Use:   "spreadsheet CSV...",
		Short: "Write CSV files anew as spreadsheets of a language open them",
		Long: `spreadsheet writes each CSV file anew beside it, events.csv as events.de.csv: with a
mark that tells the text is UTF-8, so that umlauts show; with --lang de and fr with
semicolons between the columns and a decimal comma, as spreadsheets of these
languages expect them. A double click opens it in columns, with numbers.

The files of other commands keep commas and decimal points, whatever the language:
programs read those.`,
		Example: `  liftbench run --out results
  liftbench spreadsheet --lang de results/events.csv`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return &failure.Usage{Msg: cmd.CommandPath() + ": found no argument; expected CSV files, as results/events.csv"}
			}
			return nil
		},
		RunE: func(cmd *cobra.Command, args []string) error {
			l, err := language.Parse(lang)
			if err != nil {
				return &failure.Usage{Msg: "--lang: " + err.Error()}
			}
			for _, path := range args {
				if err := beside(path, l, cmd.OutOrStdout()); err != nil {
					return err
				}
			}
			return nil
		},
	}
	cmd.Flags().StringVar(&lang, "lang", lang, "language of the spreadsheet program: `en|de|fr`")
	_ = cmd.RegisterFlagCompletionFunc("lang", cobra.FixedCompletions([]string{"en", "de", "fr"}, cobra.ShellCompDirectiveNoFileComp))
	return cmd
}

// beside writes the file of path anew and prints the name of the new one.
func beside(path string, l language.Language, stdout io.Writer) error {
	stem, ok := strings.CutSuffix(path, ".csv")
	if !ok {
		return &failure.Usage{Msg: path + " is no CSV file; expected a name that ends in .csv"}
	}
	in, err := os.Open(path)
	if err != nil {
		return failure.Opening(path, "a CSV file", err)
	}
	defer in.Close()
	name := fmt.Sprintf("%s.%s.csv", stem, l)
	var wrong *csv.ParseError
	err = files.WriteWhole(name, func(w io.Writer) error { return Rewrite(w, in, l) })
	if errors.As(err, &wrong) {
		return &failure.Input{File: fmt.Sprintf("%s:%d:%d", path, wrong.Line, wrong.Column), Msg: wrong.Err.Error() + "; expected columns separated by commas", Err: err}
	}
	if err != nil {
		return err
	}
	if _, err := fmt.Fprintln(stdout, name); err != nil {
		return fmt.Errorf("standard output: %w", err)
	}
	return nil
}

// Rewrite writes CSV with commas and decimal points as spreadsheets of a language take
// it. Only what is a number as a whole gets another decimal mark.
func Rewrite(w io.Writer, r io.Reader, l language.Language) error {
	in, out := csv.NewReader(r), csv.NewWriter(w)
	in.ReuseRecord = true
	in.FieldsPerRecord = -1
	out.UseCRLF = true
	mark := l.DecimalMark()
	if mark == "," {
		out.Comma = ';'
	}
	const utf8Mark = "\ufeff" // without it such programs take the text for one of an older code page
	if _, err := io.WriteString(w, utf8Mark); err != nil {
		return err
	}
	for {
		row, err := in.Read()
		if err == io.EOF {
			out.Flush()
			return out.Error()
		}
		if err != nil {
			return err
		}
		for i, field := range row {
			if decimal(field) {
				row[i] = strings.Replace(field, ".", mark, 1)
			}
		}
		if err := out.Write(row); err != nil {
			return err
		}
	}
}

// decimal reports whether a field is a number with decimals: -12.5, 1.5e-07.
func decimal(field string) bool {
	digits := func(s string) (rest string, some bool) {
		rest = strings.TrimLeft(s, "0123456789")
		return rest, len(rest) < len(s)
	}
	rest, whole := digits(strings.TrimPrefix(field, "-"))
	rest, point := strings.CutPrefix(rest, ".")
	rest, part := digits(rest)
	if !whole || !point || !part {
		return false
	}
	if rest == "" {
		return true
	}
	exponent, found := strings.CutPrefix(rest, "e")
	rest, some := digits(strings.TrimPrefix(strings.TrimPrefix(exponent, "-"), "+"))
	return found && some && rest == ""
}
