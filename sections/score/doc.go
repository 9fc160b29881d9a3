// Package score measures where each section worked against where it should
// have: ideal crossings along the true or smoothed track of a drive, the
// actual transitions paired with them, and the ground worked, missed,
// overrun and worked twice.
//
// # Ideal crossings
//
// A section ought to be in work while sections.Gate says so. A crossing is an
// instant at which that answer changes: at a zone's border, or because a zone
// starts or stops to take part (heading against rows, tight path). Crossings
// are found to 4 µs. The walk sleeps while the clearance around the bar rules
// a border out, and looks every 10 cm of the bar's movement otherwise: a sliver
// of ground narrower than 10 cm along the path can be passed over. Whether
// zones take part is looked at on every pose of the track, and the instant of a
// change is found between two poses.
//
// Where the track breaks off and goes on elsewhere, farther than its speed
// explains, nothing is swept, and a change of the ideal state is noted at the
// first pose after the break.
//
// A track that starts inside a zone starts with the section ideally in work,
// without a crossing; if the tool was up then, its first drop is a Start.
//
// # Errors
//
// Time error is actual minus ideal instant. Place error is the length of the
// way that the section's middle travels from the ideal to the actual instant:
// ∫ ±|u| dt with u the full velocity of the middle (sideways part included)
// and the sign that of its part along the tool's heading, so that reversing
// counts backwards. Both are positive when the transition came late. On a
// straight approach place error = v·(time error).
//
// For a rigid mount the middle at (x, y) moves with v - y·ω along the heading
// and x·ω to the right (the derivative of T + x·f + y·r with f' = ω·r,
// r' = -ω·f). See velocity for trailed tools.
//
// # Areas
//
// All areas are integrals over the drive of share · width · |speed of the
// section's middle along the tool's heading|, that is, of the ground swept by
// a section whose two ends move the same way. Each pass counts for itself.
//
//   - worked: swept while in work.
//   - overrun: worked outside the zones that take part at that pose, so also
//     outside the field and in keep-out ground.
//   - across_rows: the part of overrun inside a body or headland zone that does
//     not take part, because its rows run another way or because the path is
//     too tight: crop rows hoed across.
//   - miss: swept inside zones that take part while not in work.
//   - passed: swept inside zones that take part, in work or not, so
//     passed = (worked - overrun) + miss.
//   - repeat: ground worked again, counted once for each time after the first,
//     at the section that came later. It is measured on parallel lines across
//     all ways, 3 cm apart or, after some 4 km, further: exact along each line.
//     Between poses, the borders of a pass are drawn within 0.2 mm.
//
// Even a tool that changes at the ideal instant leaves, at a border that a
// section of width w meets at α from square, overrun plus miss of w²·tan α / 2
// with the crop-first and weed-first rules and of w²·tan α / 4 with even.
package score
