// The part of a study that one of several machines runs.

package study

import (
	"fmt"
	"strconv"
	"strings"

	"liftbench/cmd/liftbench/failure"
	"liftbench/sim/sweep"
)

// ParseShard reads "2/5", the second of five parts; an empty text is the whole study.
func ParseShard(text string) (sweep.Shard, error) {
	if text == "" {
		return sweep.Shard{}, nil
	}
	part, of, ok := strings.Cut(text, "/")
	p, err1 := strconv.Atoi(part)
	n, err2 := strconv.Atoi(of)
	if !ok || err1 != nil || err2 != nil || p < 1 || n < p || n > 1<<20 {
		return sweep.Shard{}, &failure.Usage{Msg: fmt.Sprintf("--shard %s: expected a part of several, as 2/5", text)}
	}
	return sweep.Shard{Part: p, Of: n}, nil
}
