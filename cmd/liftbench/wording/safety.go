// The safety words of measuring behind a machine.

package wording

// StandClear is what anyone who measures behind a machine, or drives it by figures of the bench, reads
// first. Its lines are those of a command's help.
const StandClear = `Nobody stands at the flag line, or between a unit and the border, while the
machine drives. Measure when it has gone and stands: engine off, key out, tools
lowered or locked. Oil under pressure goes through skin: look for leaks with a
piece of card, never by hand. The bench is not a safety function.`
