// The page's lessons. The caller provides them.

package web

// Lesson is a ready-made setting, with what to change and what to look for.
type Lesson struct {
	Key   string         `json:"key"`
	Title string         `json:"title"`
	Text  [3]string      `json:"text"`
	Set   map[string]any `json:"set"`  // where it starts; all else at its default
	Turn  []string       `json:"turn"` // the controls to turn
	Watch string         `json:"watch"`
}
