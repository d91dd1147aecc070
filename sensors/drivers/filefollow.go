package drivers

import (
	"bytes"
	"context"
	"errors"
	"io"
	"io/fs"
	"os"
)

// follow hands over what is new, whole lines only. A file that shrank is read from its beginning; one that was moved away is
// read to its end before its successor.
func (s *fileSource) follow(ctx context.Context, take func([]byte)) error {
	info, err := os.Stat(s.path)
	if s.f != nil {
		mine, errMine := s.f.Stat()
		switch {
		case errMine != nil || err != nil || !os.SameFile(info, mine):
			_ = s.drain(ctx, take)
			_ = s.Close()
		case mine.Size() < s.done || !s.sameTail():
			s.done = 0
		}
	}
	if err != nil {
		return silent("%s", notThere(err))
	}
	if s.f == nil {
		if s.f, err = os.Open(s.path); err != nil {
			return silent("%s", notThere(err))
		}
		s.done = 0
	}
	return s.drain(ctx, take)
}

func notThere(err error) string {
	if errors.Is(err, fs.ErrNotExist) {
		return "no such file"
	}
	return rootCause(err).Error()
}

func (s *fileSource) drain(ctx context.Context, take func([]byte)) error {
	buf := make([]byte, fileSlice)
	for ctx.Err() == nil {
		n, err := s.f.ReadAt(buf, s.done)
		if err != nil && !errors.Is(err, io.EOF) {
			return silent("%v", rootCause(err))
		}
		end := bytes.LastIndexByte(buf[:n], '\n') + 1
		if end == 0 {
			if n > longestRow {
				return garbled("a line without an end")
			}
			return nil // nothing, or a line half written
		}
		chunk := buf[:end]
		if s.done == 0 {
			head, rest, _ := bytes.Cut(chunk, []byte("\n"))
			if string(bytes.ReplaceAll(bytes.TrimPrefix(bytes.TrimSpace(head), []byte("\ufeff")), []byte(" "), nil)) != fileHeader {
				return garbled("the first line is not %s", fileHeader)
			}
			chunk = rest
		}
		take(chunk)
		s.done += int64(end)
		s.tail = bytes.Clone(buf[max(end-64, 0):end])
	}
	return ctx.Err()
}

func (s *fileSource) sameTail() bool {
	now := make([]byte, min(int64(len(s.tail)), s.done))
	_, err := s.f.ReadAt(now, s.done-int64(len(now)))
	return err == nil && bytes.HasSuffix(s.tail, now)
}
