package daemon

import "strings"

// lastLine makes one line of a runtime's crash text: the line that says what happened, at most 200 bytes of it. Of a fatal error of
// the runtime (no memory, no thread) that line goes to the log alone, so where it happened is said instead.
func lastLine(text string) string {
	line := ""
	for l := range strings.Lines(text) {
		l = strings.TrimSpace(l)
		if line == "" {
			line = l
		}
		if l == abort && !fromOutside(text) {
			return "the program aborted itself; the log has its words"
		}
		if strings.HasPrefix(l, "panic: ") || strings.HasPrefix(l, "fatal error: ") || strings.HasPrefix(l, "SIG") {
			return briefly(l)
		}
	}
	if frames := firstFrames(text, 4); len(frames) > 0 {
		line = "a fatal error of the runtime in " + strings.Join(frames, ", called by ") + "; the log has its words"
	}
	return briefly(line)
}

// abort is how a crash text begins after the signal by which a supervisor ends a program that gives no sign of life.
const abort = "SIGABRT: abort"

// fromOutside reports whether a crash text's signal came from another process (signal(7), sigaction(2): si_code SI_USER is 0; what
// a program does to itself, by its C library for one, is SI_TKILL, below 0).
func fromOutside(text string) bool {
	_, code, ok := strings.Cut(text[:min(len(text), 500)], "sigcode=")
	return ok && (code == "0" || strings.HasPrefix(code, "0\n"))
}

func briefly(line string) string { return strings.ToValidUTF8(line[:min(len(line), 200)], "") }

// firstFrames are the functions of a crash text's first stack, innermost first, without those through which the runtime gives up.
func firstFrames(text string, most int) (names []string) {
	inside := false
	for l := range strings.Lines(text) {
		l = strings.TrimRight(l, "\n")
		switch {
		case strings.HasPrefix(l, "runtime stack:") || strings.HasPrefix(l, "goroutine "):
			inside = true
		case l == "" && len(names) > 0 || len(names) == most:
			return names
		case !inside || l == "" || l[0] == '\t' || strings.HasPrefix(l, "created by "):
		default:
			end := strings.LastIndex(l, "(")
			if end <= 0 {
				continue
			}
			if name := l[:end]; !strings.HasSuffix(name, ".throw") && !strings.HasSuffix(name, ".fatal") {
				names = append(names, name)
			}
		}
	}
	return names
}
