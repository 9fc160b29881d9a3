package diagnose

import "fmt"

// A day on which the controller's drop lead was 0.2 s too short.
func ExampleRun() {
	day := closedForm(clearDay(1), fault{dropS: 0.2})
	d, err := Run(day)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, c := range d.Causes {
		fmt.Println(c.Cause)
		fmt.Println(c.Evidence)
		fmt.Println(c.Change)
	}
	// Output:
	// drop timing
	// Drops come 201 ms late at every speed (95 % interval 197 to 205 ms, 20 crossings): 25 cm at 4.5 km/h, 50 cm at 8.9 km/h.
	// Turn-on time of the sections (drop lead, ISO 11783-11 DDI 205): raise it by 201 ms, from 600 to 801 ms (controller.drop_lead).
}
