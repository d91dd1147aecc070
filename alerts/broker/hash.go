package broker

import (
	"crypto/rand"
	"crypto/subtle"
	"encoding/base64"
	"errors"
	"fmt"
	"strings"

	"golang.org/x/crypto/argon2"
)

// The cost of a password check: 19 MiB and 2 passes, one of the settings OWASP's Password Storage Cheat Sheet names for
// argon2id (from memory).
const (
	hashMemory = 19 * 1024 // KiB
	hashPasses = 2
	hashLanes  = 1
	hashLength = 32
)

// hash is an argon2id hash of a password (RFC 9106).
type hash struct {
	memory, passes uint32
	lanes          uint8
	salt, sum      []byte
}

// Hash makes the line to put into password-file in place of the password itself, in the usual "$argon2id$v=19$..." form.
func Hash(password string) string { return newHash(password).String() }

func newHash(password string) *hash {
	h := &hash{memory: hashMemory, passes: hashPasses, lanes: hashLanes, salt: make([]byte, 16)}
	rand.Read(h.salt) // never fails: the runtime ends the program instead
	h.sum = h.of([]byte(password), hashLength)
	return h
}

func (h *hash) of(password []byte, length uint32) []byte {
	return argon2.IDKey(password, h.salt, h.passes, h.memory, h.lanes, length)
}

// matches compares in constant time.
func (h *hash) matches(password []byte) bool { return same(h.of(password, uint32(len(h.sum))), h.sum) }

func same(a, b []byte) bool { return subtle.ConstantTimeCompare(a, b) == 1 }

func (h *hash) String() string {
	enc := base64.RawStdEncoding
	return fmt.Sprintf("$argon2id$v=%d$m=%d,t=%d,p=%d$%s$%s", argon2.Version, h.memory, h.passes, h.lanes, enc.EncodeToString(h.salt), enc.EncodeToString(h.sum))
}

// readHash takes what a password file holds: a hash, or the password itself, which is then hashed and forgotten.
func readHash(secret string) (*hash, error) {
	if !strings.HasPrefix(secret, "$argon2id$") {
		if strings.HasPrefix(secret, "$") {
			return nil, errors.New("reading the broker's password: the file seems to hold a hash of another kind: only argon2id is understood")
		}
		return newHash(secret), nil
	}
	var h hash
	var version int
	parts := strings.Split(secret, "$")
	if len(parts) != 6 {
		return nil, errors.New("reading the broker's password: the argon2id hash in the file is incomplete")
	}
	_, err1 := fmt.Sscanf(parts[2], "v=%d", &version)
	_, err2 := fmt.Sscanf(parts[3], "m=%d,t=%d,p=%d", &h.memory, &h.passes, &h.lanes)
	var err3, err4 error
	h.salt, err3 = base64.RawStdEncoding.DecodeString(parts[4])
	h.sum, err4 = base64.RawStdEncoding.DecodeString(parts[5])
	if err := errors.Join(err1, err2, err3, err4); err != nil {
		return nil, fmt.Errorf("reading the broker's password: the argon2id hash in the file is damaged: %w", err)
	}
	if version != argon2.Version || h.memory > 256*1024 || h.passes < 1 || h.passes > 16 || h.lanes < 1 || len(h.salt) < 8 || len(h.sum) < 16 {
		return nil, errors.New("reading the broker's password: the argon2id hash in the file has settings out of range")
	}
	return &h, nil
}
