/* A bar of two sections of 3 m, 2 m behind the rear axle, drives north at 2 m/s into a
 * field of 40 m and out of it: prints each command. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "../sections.h"

int main(void) {
	sections_place places[2] = {{-2, -1.5, 3}, {-2, 1.5, 3}};
	char message[300];
	sections_setup setup = {
		.mount = SECTIONS_REAR, .edge_rule = SECTIONS_EVEN, .count = 2, .places = places,
		.lift_lead_ns = 300000000, .drop_lead_ns = 600000000,
		.field_geojson = "{\"type\": \"Feature\", \"properties\": {\"zone\": \"body\", \"row_bearing_deg\": 0}, \"geometry\": {\"type\": \"Polygon\", \"coordinates\": "
		                 "[[[9.7997, 52.3], [9.8003, 52.3], [9.8003, 52.30035949], [9.7997, 52.30035949], [9.7997, 52.3]]]}}",
	};
	uintptr_t c = sections_new(&setup, message, sizeof message);
	if (!c) {
		fprintf(stderr, "%s\n", message);
		return 1;
	}
	const int64_t start = 1936000000000000000;
	for (int k = 0; k < 400; k++) {
		/* A fix of each tenth of a second, which arrives 100 ms late. */
		double north = 0.2 * k - 20;
		sections_fix fix = {start + k * 100000000ll, 52.3 + north / 111267.0, 9.8, 2, 0, NAN, 4};
		for (int tick = 1; tick <= 2; tick++) {
			sections_setpoint out[2];
			if (tick == 1) sections_take(c, &fix);
			int n = sections_tick(c, fix.time_ns + 50000000ll * (tick + 1), out, 2);
			for (int i = 0; i < n; i++) printf("%.2f s: %s section %d\n", (double)(out[i].due_ns - start) * 1e-9, out[i].on ? "drop" : "lift", (int)out[i].section + 1);
		}
		if (k == 200) { /* on from a saved state, in a new controller */
			int32_t size = sections_save(c, NULL, 0);
			uint8_t *state = malloc((size_t)size);
			uintptr_t next = sections_new(&setup, message, sizeof message);
			if (!state || !next || sections_save(c, state, size) != size || sections_restore(next, state, size) != 0 || sections_restore(next, state, size - 1) != -1) return 2;
			sections_free(c);
			free(state);
			c = next;
		}
	}
	sections_free(c);
	setup.count = 0;
	if (sections_new(&setup, message, sizeof message)) return 3;
	printf("refused: %s\n", message);
	return 0;
}
