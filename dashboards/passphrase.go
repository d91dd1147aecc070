package dashboards

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"fmt"
	"strings"

	"golang.org/x/crypto/argon2"
)

// Cost of one guess: 19 MiB, two passes, one lane, the lowest set recommended for argon2id (OWASP password storage notes, from
// memory); a small board needs a fraction of a second for it.
const (
	argonMemory = 19 * 1024 // KiB
	argonPasses = 2
	argonLanes  = 1
	argonKey    = 32
)

// phrase is a passphrase as it is kept: salt and hash, never the words.
type phrase struct {
	memory, passes uint32
	lanes          uint8
	salt, hash     []byte
}

// HashPassphrase makes the one-line text that may stand in the passphrase file instead of the passphrase itself.
func HashPassphrase(words string) (string, error) {
	ph, err := newPhrase(words)
	if err != nil {
		return "", err
	}
	return ph.line(), nil
}

// line writes a phrase with its cost, salt and hash.
func (ph *phrase) line() string {
	b64 := base64.RawStdEncoding.EncodeToString
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, ph.memory, ph.passes, ph.lanes, b64(ph.salt), b64(ph.hash))
}

// minPassphrase is the least number of bytes worth the name.
const minPassphrase = 8

func newPhrase(words string) (*phrase, error) {
	words = strings.TrimRight(words, "\r\n")
	if len(words) < minPassphrase {
		return nil, fmt.Errorf("the passphrase has fewer than %d characters: write a longer one", minPassphrase)
	}
	ph := &phrase{memory: argonMemory, passes: argonPasses, lanes: argonLanes, salt: make([]byte, 16)}
	rand.Read(ph.salt)
	ph.hash = ph.of(words)
	return ph, nil
}

func (ph *phrase) of(words string) []byte {
	return argon2.IDKey([]byte(words), ph.salt, ph.passes, ph.memory, ph.lanes, argonKey)
}

// matches compares in constant time.
func (ph *phrase) matches(words string) bool {
	return subtle.ConstantTimeCompare(ph.of(words), ph.hash) == 1
}

// readPhrase reads the passphrase file's text: a line HashPassphrase made, or the passphrase itself.
func readPhrase(text string) (*phrase, error) {
	text = strings.TrimRight(text, "\r\n")
	if !strings.HasPrefix(text, "$argon2id$") {
		return newPhrase(text)
	}
	ph := &phrase{}
	parts := strings.Split(text, "$")
	version := 0
	if len(parts) == 6 {
		if _, err := fmt.Sscanf(parts[2], "v=%d", &version); err == nil && version == argon2.Version {
			if _, err := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &ph.memory, &ph.passes, &ph.lanes); err == nil {
				ph.salt, _ = base64.RawStdEncoding.DecodeString(parts[4])
				ph.hash, _ = base64.RawStdEncoding.DecodeString(parts[5])
			}
		}
	}
	if len(ph.salt) < 8 || len(ph.hash) != argonKey || ph.memory < 8 || ph.memory > 1<<20 || ph.passes < 1 || ph.passes > 64 || ph.lanes < 1 {
		return nil, fmt.Errorf("reading the passphrase file: the hashed line is not one this program made")
	}
	return ph, nil
}
