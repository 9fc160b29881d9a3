// The state of a live bench at one instant. It is sent once a second, whether
// positions arrive or not, so that a page that shows an old drive says that it
// is old.

package web

// Instant is the state of a live bench now.
type Instant struct {
	ClockMs  int64  `json:"clock"`    // the receiver's UTC, ms since 1970
	Started  bool   `json:"started"`  // a position has come
	AgeMs    int64  `json:"age"`      // of the newest position
	MaxAgeMs int64  `json:"maxAge"`   // from which age on a position counts as lost
	AwayM    int64  `json:"away"`     // of it from the box around the field, m; 0 = inside, or not known
	Quality  string `json:"quality"`  // of the newest epoch
	SpeedMmS *int64 `json:"speed"`    // null = not known
	Standing bool   `json:"standing"` // the machine stands
	Lost     string `json:"lost"`     // why the position is lost; "" = it is not
	LostMs   int64  `json:"lostFor"`  // for how long
	FailSafe string `json:"failSafe"` // what the fail-safe has done since: "lift", "hold"; "" = nothing yet
	Told     string `json:"told"`     // the setpoints, a character a section: 1 = in work, 0 = up
}
