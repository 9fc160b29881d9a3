// What readings cannot tell, for whoever puts it into words of some language.

package tape

// Doubt is something that the readings cannot tell. Which of the fields mean something depends on what it
// is about.
type Doubt struct {
	About About   `json:"about"`
	Move  Move    `json:"move"`
	Term  Term    `json:"term"`
	Rows  []int   `json:"rows"`
	Count int     `json:"count"`
	First float64 `json:"first"`
	Last  float64 `json:"last"`
}

// About says what is not known.
type About string

// What doubts are about.
const (
	WhichSlipped About = "which"    // which of Rows is wrong; one of them is, beyond chance
	TermFew      About = "few"      // whether Term matters, from Count readings
	TermTogether About = "together" // whether Term matters, as it changed together with something else
	PassUnnamed  About = "unnamed"  // which readings are of one pass, as several sections were measured and no pass is named
	Scatter      About = "scatter"  // how far readings scatter, from Count; First m are assumed
	PlaceFew     About = "place"    // whether a time or a place is wrong, from Count readings
	OneSpeed     About = "speed"    // the same, as all passes were at about First m/s
	NoDistance   About = "distance" // what puts lifts by First and drops by Last m off their place
	LeadNever    About = "never"    // the lead to ± First s, even with Count more passes; readings scatter by Last m

	LiftUntimed  About = "still lift"         // how a lift moves, without a time of one
	LiftTogether About = "still lift events"  // dead time and stroke of a lift apart
	PumpUntimed  About = "still pump"         // how many sections the pump feeds
	PumpShort    About = "still pump scatter" // the same, as strokes are shorter than readings scatter
	DropUntimed  About = "still drop"         // how a drop moves, without a time of one
	DropTogether About = "still drop events"  // dead time and fall of a drop apart
)

// Term is something beside place and time that readings may hang on.
type Term string

// The terms.
const (
	Direction Term = "direction" // a place more one way and less the other
	ColdOil   Term = "oil"       // a time more for cold oil, or for each 10 K colder
	Sections  Term = "section"   // a time more or less for each
)
