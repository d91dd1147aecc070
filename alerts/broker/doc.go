// Package broker is the MQTT broker inside the daemon, used when no outside one is configured. It keeps nothing on disk: the
// journal is the truth, and every state is published again at each start. Whoever may not publish can read only, and nobody
// reaches it from the LAN without a password.
package broker
