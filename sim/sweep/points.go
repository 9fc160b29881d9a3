// This file groups benches that have the same values on some axes.

package sweep

// Grid returns the indices of the axes that form the grid, those with Values.
func (p *Plan) Grid() []int {
	var g []int
	for i := range p.Axes {
		if p.Axes[i].Draw == nil {
			g = append(g, i)
		}
	}
	return g
}

// Group holds the benches that have the same values on some axes.
type Group struct {
	Values []float64 // on these axes
	Rows   []Row     // ordered by number
}

// Groups divides the rows of a study into groups with the same values on the
// given axes, which are indices of axes of the grid. The last of these axes
// changes fastest from group to group.
func (p *Plan) Groups(rows []Row, axes []int) []Group {
	n := 1
	for _, a := range axes {
		n *= len(p.Axes[a].Values)
	}
	groups := make([]Group, n)
	for _, r := range rows {
		at, rest := make([]int, len(p.Axes)), r.Number/p.Seeds
		for i := len(p.Axes) - 1; i >= 0; i-- {
			if a := &p.Axes[i]; a.Draw == nil {
				at[i] = rest % len(a.Values)
				rest /= len(a.Values)
			}
		}
		k := 0
		for _, a := range axes {
			k = k*len(p.Axes[a].Values) + at[a]
		}
		groups[k].Rows = append(groups[k].Rows, r)
	}
	for k := range groups {
		rest := k
		groups[k].Values = make([]float64, len(axes))
		for i := len(axes) - 1; i >= 0; i-- {
			v := p.Axes[axes[i]].Values
			groups[k].Values[i] = v[rest%len(v)]
			rest /= len(v)
		}
	}
	return groups
}

// Column returns the result with index measure of each row.
func (g *Group) Column(measure int) []float64 {
	v := make([]float64, len(g.Rows))
	for i := range g.Rows {
		v[i] = g.Rows[i].Results[measure]
	}
	return v
}
