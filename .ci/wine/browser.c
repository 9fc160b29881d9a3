// Stands for the browser that the desktop opens addresses with: writes the one that it is
// given to the file "opened" beside it.
#include <windows.h>
#include <stdio.h>
#include <string.h>

int main(int n, char **arg) {
	char path[MAX_PATH], whole[MAX_PATH];
	if (n != 2 || !GetModuleFileNameA(NULL, path, sizeof path)) return 2;
	strcpy(strrchr(path, '\\') + 1, "opened");
	snprintf(whole, sizeof whole, "%s.tmp", path);
	FILE *file = fopen(whole, "wb");
	if (!file || fputs(arg[1], file) < 0 || fclose(file)) return 1;
	return MoveFileExA(whole, path, MOVEFILE_REPLACE_EXISTING) ? 0 : 1;
}
