/* Works each section where its middle is over crop at the newest position, without any lead. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { SECTIONS = 256, RINGS = 100, POINTS = 10000 };
static double ahead, right, x[SECTIONS], y[SECTIONS], lat[POINTS], lon[POINTS], bearing[RINGS];
static int sections, rings, points, first[RINGS + 1], crop[RINGS], rows[RINGS];
static const double degree = 3.14159265358979323846 / 180;

/* The last ring around a point says whether there is crop whose rows are followed. */
static int inside(double a, double o, double course) {
	int work = 0;
	for (int r = 0; r < rings; r++) {
		int odd = 0, follows = !rows[r] || fabs(sin(course - bearing[r] * degree)) < 0.17;
		for (int i = first[r]; i + 1 < first[r + 1]; i++)
			if ((lat[i] > a) != (lat[i + 1] > a) && o < lon[i] + (a - lat[i]) * (lon[i + 1] - lon[i]) / (lat[i + 1] - lat[i])) odd = !odd;
		if (odd && (follows || !crop[r])) work = crop[r];
	}
	return work;
}

static double degrees(const char *text, char side) {
	double d = atof(text), whole = floor(d / 100);
	return (whole + (d - whole * 100) / 60) * (side == 'S' || side == 'W' ? -1 : 1);
}

int main(void) {
	char line[512], now[40] = "0.000000000", kind[20] = "", rest[20] = "", body[500], *f[20];
	unsigned seq = 0;
	while (fgets(line, sizeof line, stdin)) {
		if (!strncmp(line, "job", 3)) sections = rings = points = 0;
		if (sscanf(line, "antenna %lf %lf", &ahead, &right) == 2) continue;
		if (sections < SECTIONS && sscanf(line, "section %*d %lf %lf", &x[sections], &y[sections]) == 2) x[sections] -= ahead, y[sections++] -= right;
		else if (sscanf(line, "zone %19s %19s", kind, rest) == 2) continue;
		else if (rings < RINGS && (!strncmp(line, "outline", 7) || !strncmp(line, "hole", 4))) {
			crop[rings] = line[0] == 'o' && (!strcmp(kind, "body") || !strcmp(kind, "headland"));
			rows[rings] = rest[0] != '-', bearing[rings] = atof(rest), first[rings++] = points;
		} else if (points < POINTS && sscanf(line, "point %lf %lf", &lat[points], &lon[points]) == 2) first[rings] = ++points;
		else if (!strncmp(line, "start", 5)) puts("ready 1");
		else if (sscanf(line, "now %39s", now) == 1) continue;
		else if (!strncmp(line, "turn", 4)) printf("done %s\n", now);
		else if (line[0] == '$' && !strncmp(line + 3, "RMC,", 4)) {
			int n = 0, length, check = 0;
			for (char *p = line; p && n < 20; p = strchr(p, ',')) *p = p == line ? '$' : 0, f[n++] = p += p != line;
			if (n < 9 || f[2][0] != 'A' || !f[8][0]) continue;
			double a = degrees(f[3], f[4][0]), o = degrees(f[5], f[6][0]), course = atof(f[8]) * degree, s = sin(course), c = cos(course);
			length = sprintf(body, "PLBS,%u,%d,%.*s", seq++, sections, (int)strlen(now) - 3, now);
			for (unsigned long w = 0, i = 0; i < (unsigned long)(sections + 15) / 16 * 16; i++) {
				w = (i % 16 ? w : 0) | (i >= (unsigned long)sections ? 3ul : inside(a + (x[i] * c - y[i] * s) / 111270, o + (x[i] * s + y[i] * c) / 111320 / cos(a * degree), course) ? 1ul : 0ul) << i % 16 * 2;
				if (i % 16 == 15) length += sprintf(body + length, ",%08lX", w);
			}
			for (int i = 0; i < length; i++) check ^= body[i];
			printf("$%s*%02X\n", body, check);
		}
		fflush(stdout);
	}
	return 0;
}
