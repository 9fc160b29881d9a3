// The console window of the program of a name: window show NAME prints what stands in it,
// window close NAME closes it.
#include <windows.h>
#include <stdio.h>
#include <string.h>
#include <tlhelp32.h>

int main(int n, char **arg) {
	if (n != 3) return 2;
	PROCESSENTRY32 p = {.dwSize = sizeof p};
	HANDLE all = CreateToolhelp32Snapshot(TH32CS_SNAPPROCESS, 0);
	BOOL more = Process32First(all, &p);
	while (more && _stricmp(p.szExeFile, arg[2])) more = Process32Next(all, &p);
	FreeConsole();
	if (!more || !AttachConsole(p.th32ProcessID)) return 1;
	if (!strcmp(arg[1], "close")) return PostMessageA(GetConsoleWindow(), WM_CLOSE, 0, 0) ? 0 : 1;
	HANDLE screen = CreateFileA("CONOUT$", GENERIC_READ | GENERIC_WRITE, FILE_SHARE_READ | FILE_SHARE_WRITE, NULL, OPEN_EXISTING, 0, NULL);
	CONSOLE_SCREEN_BUFFER_INFO size;
	if (!GetConsoleScreenBufferInfo(screen, &size)) return 1;
	for (COORD at = {0, 0}; at.Y <= size.dwCursorPosition.Y; at.Y++) {
		char line[1024];
		DWORD read = 0;
		if (!ReadConsoleOutputCharacterA(screen, line, min((DWORD)size.dwSize.X, sizeof line), at, &read)) return 1;
		while (read > 0 && line[read - 1] == ' ') read--;
		printf("%.*s\n", (int)read, line);
	}
	return 0;
}
