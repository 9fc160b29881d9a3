/* The section controller for programs in C: it takes fixes and says at which
 * instants which section lifts and drops. It has no clock, no thread and no
 * input or output of its own; the caller says what time it is. Instants are
 * nanoseconds since 1970 UTC, lengths metres, angles degrees. A handle is used
 * by one thread at a time. Built with
 *
 *   go build -buildmode=c-archive -o libsections.a ./sections/cinterface
 *   cc program.c libsections.a -lm -lpthread
 *
 * This is a bench's controller, no safety function: what moves tools needs a way
 * of its own to lift them when no setpoint comes.
 */
#ifndef SECTIONS_H
#define SECTIONS_H

#include <stdint.h>

#ifdef __cplusplus
extern "C" {
#endif

/* The version of these functions and structs. */
#define SECTIONS_INTERFACE 1

/* One section: the middle of its line, ahead and to the right of the middle of
 * the rear axle, and its width. From the left in the driving direction. */
typedef struct {
	double forward_m, right_m, width_m;
} sections_place;

enum { SECTIONS_REAR, SECTIONS_FRONT, SECTIONS_TRAILED };
enum { SECTIONS_EVEN, SECTIONS_CROP_FIRST, SECTIONS_WEED_FIRST };

/* What a controller is made of. 0 in a duration or a limit means its default,
 * but in a lead: that is none. */
typedef struct {
	int32_t mount; /* SECTIONS_REAR and on */
	int32_t edge_rule; /* SECTIONS_EVEN and on */
	double antenna_forward_m, antenna_right_m;
	double hitch_behind_m, drawbar_m; /* trailed */
	int32_t count; /* of places, 1 to 256 */
	sections_place *places;
	char *field_geojson; /* zones as in a field file; ends with 0 */
	int64_t lift_lead_ns, drop_lead_ns;
	int64_t tick_ns, max_age_ns, hold_ns;
} sections_setup;

/* One position. Not known: NAN. quality is the number in GGA. */
typedef struct {
	int64_t time_ns;
	double latitude_deg, longitude_deg, speed_mps, course_deg, heading_deg;
	int32_t quality;
} sections_fix;

/* One command: it takes effect at the valve at due_ns. section is from 0. */
typedef struct {
	int64_t due_ns;
	int32_t section, on;
} sections_setpoint;

/* Returns a handle, or 0; then message, of room bytes, says why. */
extern uintptr_t sections_new(sections_setup *setup, char *message, int32_t room);
extern void sections_free(uintptr_t handle);

/* Takes a fix when it has arrived. */
extern void sections_take(uintptr_t handle, sections_fix *fix);

/* Writes what falls due from now_ns on and before the next tick, and returns how
 * many. Called at least every tick_ns, and after each fix. room is at least the
 * number of sections, else -1 is returned and nothing decided. */
extern int32_t sections_tick(uintptr_t handle, int64_t now_ns, sections_setpoint *out, int32_t room);

/* The state, to go on from: returns its size, and writes it if room suffices.
 * sections_restore returns 0, or -1 where the state is of another version or
 * machine; then nothing has changed. */
extern int32_t sections_save(uintptr_t handle, uint8_t *state, int32_t room);
extern int32_t sections_restore(uintptr_t handle, uint8_t *state, int32_t size);

#ifdef __cplusplus
}
#endif
#endif
