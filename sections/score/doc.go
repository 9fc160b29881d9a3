// Package score compares where each section worked with where it should have worked.
// From the track of a drive it finds when each section should have been lifted and
// dropped, pairs that with what the tools did, and measures how late they were and what
// ground was worked, missed, overrun and worked twice.
//
// # Ideal changes
//
// A section should be in work while sections.Gate says so. Its ideal lift or drop is the
// instant at which that answer changes: at the border of a zone, or where a zone starts
// or stops to take part because of the heading or of a turn. These instants are found to
// 4 µs. No border is looked for while the nearest edge is too far away to matter.
// Otherwise the sections are looked at each time the bar has moved 10 cm; a gap or a
// spell of work shorter than two looks, 20 cm along the path, is left out. So is one in
// which the section never gets beyond doubt (sections.Gate.Sure): it has only grazed a
// border. The shortest times of Options do not count while the tractor stands. Which zones take part is decided
// at every pose of the track, and between two poses where it changes. While the machine backs
// up none does, from a metre on: tools in the ground are lifted for that.
//
// A track may break off and go on somewhere else, farther away than its speed explains.
// Nothing is swept in between, and if the ideal state differs there it changes at the
// first pose after the break.
//
// If the track starts inside a zone, the section should be in work from the start, and no
// ideal drop is counted. If the tool was up at that time, its first drop is a Start.
//
// # Errors
//
// The time error is the actual instant minus the ideal one. The place error is the
// distance that the section's middle travels from the ideal to the actual instant. It
// includes sideways movement and is counted backwards while the middle moves backwards
// along the tool's heading: ∫ ±|u| dt, with u the velocity of the middle. Both errors are
// positive if the tool came late. On a straight approach at speed v the place error is v
// times the time error.
//
// On a rigid mount the middle at (x, y) moves at v - y·ω along the heading and at x·ω to
// the right: this is the derivative of T + x·f + y·r with f' = ω·r and r' = -ω·f. For
// trailed tools see velocity.
//
// # Areas
//
// Areas are integrals over the drive of share · width · |speed of the section's middle
// along the tool's heading|. This is the ground that the section sweeps if both of its
// ends move the same way. Ground that is driven over twice counts twice, except in
// repeat.
//
//   - worked: swept while in work.
//   - overrun: worked outside the zones that take part at that pose. This includes
//     ground outside the field and in keep-out zones.
//   - across_rows: the part of overrun that lies in a body or headland zone which does not
//     take part, because its rows run another way or because the machine turns: crop rows
//     hoed across.
//   - miss: swept inside the zones that take part, but not in work.
//   - passed: swept inside the zones that take part, in work or not:
//     passed = (worked - overrun) + miss.
//     Where the gate leaves worked ground (sections.LeaveWorked), what earlier passes
//     of this drive truly worked is neither passed nor missed by a section that is up, and
//     the ideal lifts and drops at its edges are counted as those at borders.
//   - repeat: worked again, counted each time after the first, for the section that came
//     later. It is measured on parallel lines that cross all passes, exactly along each
//     line. The lines are 3 cm apart, and more once some 4 km have been driven in work.
//     The sides of a pass are drawn within 0.2 mm.
//
// A tool that changes at exactly the ideal instant still leaves overrun and miss at a
// slanting border. For a section of width w that meets the border at an angle α from
// square they add up to w²·tan α / 2 with the rules crop-first and weed-first, and to
// w²·tan α / 4 with even.
package score
