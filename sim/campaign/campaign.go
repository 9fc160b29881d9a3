// Package campaign says how often a test tries what it could go on trying for ever. The
// environment variable LIFTBENCH_CAMPAIGN decides for all of them:
//
//	(unset)  few times, so that go test ./... ends soon on any machine
//	ci       as often as .ci/run does before a change lands
//	full     by hand: as often as the figures in the documents were measured with
package campaign

import (
	"fmt"
	"os"
)

// variable is what decides.
const variable = "LIFTBENCH_CAMPAIGN"

// Times returns one of three numbers: how often to try where the variable is unset, in
// .ci/run, and by hand. It panics if the variable holds anything else, because a
// campaign that is misspelt would pass as a small one.
func Times(few, ci, full int) int {
	switch s := os.Getenv(variable); s {
	case "":
		return few
	case "ci":
		return ci
	case "full":
		return full
	default:
		panic(fmt.Sprintf("%s=%s; expected ci or full", variable, s))
	}
}

// Full reports whether the test is run by hand with LIFTBENCH_CAMPAIGN=full.
func Full() bool { return Times(0, 0, 1) == 1 }
