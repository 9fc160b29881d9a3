// Package check is the command of the set-up sheet.
package check

import (
	"fmt"
	"io"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"liftbench/cmd/liftbench/commandline"
	"liftbench/cmd/liftbench/failure"
	"liftbench/cmd/liftbench/files"
	"liftbench/cmd/liftbench/flags"
	"liftbench/cmd/liftbench/settings"
	"liftbench/cmd/liftbench/settings/bind"
	"liftbench/cmd/liftbench/sheet"
)

// NewCommand returns liftbench check.
func NewCommand() *cobra.Command {
	var sel settings.Selection
	var steeringCm float64
	var speedsText string
	var schema, demoDir, picture string
	cmd := &cobra.Command{
		Use:   "check [SCENARIO]",
		Short: "Print the set-up sheet of a machine on a field",
		Long: `check reads a machine, a field and a scenario, and prints the set-up sheet: rows
and sections, clearance, lift and drop times and the way they cost at each
speed, the straight run that the driver needs before a border, oil, work rate,
headland, lifts per hectare, and plain warnings.

With --machine alone it prints what follows from the machine; with nothing it
takes the demo.`,
		Example: `  liftbench check
  liftbench check --write-demo beets
  liftbench check --machine beets/machine.yaml --steering-error-cm 2 --speeds 4,6,8
  liftbench check --picture beets.svg beets/scenario.yaml
  liftbench check --schema machine`,
		Args: commandline.AtMostOne,
		RunE: func(cmd *cobra.Command, args []string) error {
			out := cmd.OutOrStdout()
			switch {
			case schema != "":
				return printSchema(out, schema)
			case demoDir != "":
				return settings.WriteDemo(demoDir)
			}
			if err := flags.TakeSelection(&sel, cmd, args); err != nil {
				return err
			}
			if !(steeringCm >= 0 && steeringCm <= 100) {
				return &failure.Usage{Msg: fmt.Sprintf("--steering-error-cm %g: expected 0 to 100 cm", steeringCm)}
			}
			speeds, err := parseSpeeds(speedsText)
			if err != nil {
				return err
			}
			s, err := sheet.Load(&sel)
			if err != nil {
				return err
			}
			s.SteeringErrorCm, s.SpeedsKmh = steeringCm, speeds
			if picture != "" {
				svg := func(w io.Writer) error { _, err := io.WriteString(w, s.Picture().SVG()+"\n"); return err }
				if err := files.WriteWhole(picture, svg); err != nil {
					return files.WriteError(picture, "a picture", err)
				}
			}
			return s.Write(out)
		},
	}
	flags.AddSelection(&sel, cmd)
	f := cmd.Flags()
	// Gerhards et al. 2020 (Gesunde Pflanzen, doi 10.1007/s10343-020-00523-5):
	// steered hoes kept ±4 cm at up to 10 km/h.
	f.Float64Var(&steeringCm, "steering-error-cm", 4, "steering error to either side, in `cm`")
	f.StringVar(&speedsText, "speeds", "3,4,5,6,8,10,12,15", "speeds of the table, in `km/h`")
	f.StringVar(&schema, "schema", "", "print the JSON Schema of a `machine|scenario|study|sheet` file, for editors")
	f.StringVar(&picture, "picture", "", "draw the machine from above, as its file says it is, to the SVG `FILE`")
	f.StringVar(&demoDir, "write-demo", "", "write the demo's files to `DIR`, to start from")
	_ = cmd.MarkFlagDirname("write-demo")
	_ = cmd.MarkFlagFilename("picture", "svg")
	_ = cmd.RegisterFlagCompletionFunc("schema", cobra.FixedCompletions([]string{"machine", "scenario", "study", "sheet"}, cobra.ShellCompDirectiveNoFileComp))
	return cmd
}

// parseSpeeds reads a list of speeds in km/h.
func parseSpeeds(list string) ([]float64, error) {
	var speeds []float64
	for _, s := range strings.Split(list, ",") {
		v, err := strconv.ParseFloat(strings.TrimSpace(s), 64)
		if err != nil || !(v > 0 && v <= 36) {
			return nil, &failure.Usage{Msg: fmt.Sprintf("--speeds: found %q; expected speeds above 0 up to 36 km/h as 4,6,8", s)}
		}
		speeds = append(speeds, v)
	}
	return speeds, nil
}

// printSchema prints the JSON Schema of one kind of file.
func printSchema(out io.Writer, kind string) error {
	switch kind {
	case "machine":
		return bind.WriteSchema(out, "liftbench machine file", settings.DefaultMachine())
	case "scenario":
		return bind.WriteSchema(out, "liftbench scenario file", settings.DefaultScenario())
	case "study":
		return bind.WriteSchema(out, "liftbench study file", settings.DefaultStudy())
	case "sheet":
		return bind.WriteSchema(out, "liftbench sheet file", settings.DefaultAcceptance())
	}
	return &failure.Usage{Msg: fmt.Sprintf("--schema %s: expected machine, scenario, study or sheet", kind)}
}
