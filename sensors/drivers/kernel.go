package drivers

import (
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"syscall"
	"time"

	"lathwatch/sensors"
	"lathwatch/sensors/units"
)

// path joins a path below the root; "" and "/" are this board.
func (env Env) path(parts ...string) string {
	root := env.Root
	if root == "" {
		root = "/"
	}
	return filepath.Join(append([]string{root}, parts...)...)
}

// text reads a kernel attribute: at most 4 KiB (some special files are endless), white space at the ends dropped.
func (env Env) text(path string) (string, error) {
	read := env.read
	if read == nil {
		read = readBounded
	}
	b, err := read(path, 4096)
	return strings.TrimSpace(string(b)), err
}

func readBounded(path string, limit int64) ([]byte, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	return io.ReadAll(io.LimitReader(f, limit))
}

const (
	attrTries = 3
	attrPause = 2 * time.Second // one-shot chips need that long between conversions
)

// attr reads a kernel attribute for a probe. Bit-banged chips answer with an I/O error most of the time: up to three tries,
// two seconds apart, within the deadline. An error is never a value.
func (env Env) attr(ctx context.Context, path string) (string, error) {
	for try := 1; ; try++ {
		text, err := env.text(path)
		switch {
		case err == nil && text == "":
			return "", garbled("%s is empty", filepath.Base(path))
		case err == nil:
			return text, nil
		case errors.Is(err, fs.ErrNotExist):
			return "", silent("no %s", filepath.Base(path))
		case errors.Is(err, syscall.ENODATA):
			return "", silent("the channel is switched off")
		case !passing(err) || try == attrTries || pause(ctx, attrPause) != nil:
			return "", silent("%s: %v", filepath.Base(path), rootCause(err))
		}
	}
}

func passing(err error) bool {
	return errors.Is(err, syscall.EIO) || errors.Is(err, syscall.ETIMEDOUT) || errors.Is(err, syscall.EBUSY) || errors.Is(err, syscall.EAGAIN)
}

func rootCause(err error) error {
	for errors.Unwrap(err) != nil {
		err = errors.Unwrap(err)
	}
	return err
}

var (
	onI2C     = regexp.MustCompile(`^([0-9]+)-00([0-9a-f]{2})$`)
	onOneWire = regexp.MustCompile(`^[0-9a-f]{2}-[0-9a-f]{12}$`)
)

// chipOf names a kernel device as the drivers that go to the wire do, so that two paths to one sensor are seen: "1-0044" is
// "i2c-1 0x44". Other devices keep their own name after the subsystem's.
func chipOf(subsystem, device string) string {
	if m := onI2C.FindStringSubmatch(device); m != nil {
		return "i2c-" + m[1] + " 0x" + m[2]
	}
	if onOneWire.MatchString(device) {
		return "w1 " + device
	}
	return subsystem + " " + device
}

// kernelChip is a Source of kernel attributes: find looks the folder up anew at each poll, since its number changes from boot
// to boot and with every plug pulled.
type kernelChip struct {
	env    Env
	wishes []Wish
	find   func() (dir, device string, err error)
	ask    func(ctx context.Context, dir string, w Wish) answer
	sub    string
	claims string
}

// Close has nothing to let go.
func (*kernelChip) Close() error { return nil }

// Claims is the chip behind the folder that was found.
func (k *kernelChip) Claims() string { return k.claims }

// Poll reads one attribute a wish.
func (k *kernelChip) Poll(ctx context.Context) (rs []sensors.Reading, fs []sensors.Fault) {
	dir, device, err := k.find()
	if err == nil && device != "" {
		k.claims = chipOf(k.sub, device)
	}
	for _, w := range k.wishes {
		a := answer{err: err}
		if err == nil {
			a = plausible(k.ask(ctx, dir, w))
		}
		if a.err != nil {
			fs = append(fs, faultOf(w.Probe, a.err))
			continue
		}
		rs = append(rs, sensors.Reading{Probe: w.Probe, Raw: a.raw, Step: a.step})
	}
	return rs, fs
}

// exists looks without reading: reading would start a conversion.
func exists(path string) bool {
	_, err := os.Stat(path)
	return err == nil
}

// deviceOf is the last part of a symbolic link's target, or nothing.
func deviceOf(link string) string {
	target, err := os.Readlink(link)
	if err != nil {
		return ""
	}
	return filepath.Base(target)
}

// plainWhole reads a whole number; kernel attributes may have a sign and no line break.
func plainWhole(text string, digits int, step units.Step) answer {
	n, err := units.ParseDecimal(text, digits)
	if err != nil {
		return answer{err: garbled("%q is not a number", clip(text))}
	}
	return answer{raw: n, step: step}
}
