package sections

import "liftbench/sections/edgerule"

// EdgeRule says which part of a section decides at a slanting border: see edgerule.Rule.
type EdgeRule = edgerule.Rule

const (
	CropFirst = edgerule.CropFirst
	WeedFirst = edgerule.WeedFirst
	Even      = edgerule.Even
)
