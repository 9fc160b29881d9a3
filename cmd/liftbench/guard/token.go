// Where the token comes from: never from the command line, which every user of
// the machine can read.

package guard

import (
	"fmt"
	"io"
	"os"
	"strings"
)

// TokenVariable names the environment variable that holds the token.
const TokenVariable = "LIFTBENCH_HTTP_TOKEN"

// Token returns the token in file, or that of TokenVariable where file is
// empty; "" where neither says one. White space around it does not count. The
// error is that of the system, or says what the file holds.
func Token(file string) (string, error) {
	if file == "" {
		return strings.TrimSpace(os.Getenv(TokenVariable)), nil
	}
	f, err := os.Open(file)
	if err != nil {
		return "", err
	}
	defer f.Close()
	const most = 4096
	text, err := io.ReadAll(io.LimitReader(f, most+1))
	if err != nil {
		return "", err
	}
	token := strings.TrimSpace(string(text))
	if token == "" || len(text) > most || strings.ContainsAny(token, " \t\r\n") {
		return "", fmt.Errorf("holds %d bytes; expected one token of %d to %d characters and nothing else", len(text), LeastToken, most)
	}
	return token, nil
}
