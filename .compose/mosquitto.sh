#!/bin/sh
# Started as root: the broker's users and the hashes of their passwords from the environment, then the broker itself,
# which runs as a user without rights and without these passwords in its environment.
set -eu
: "${MQTT_COLLECT_PASSWORD:?}" "${MQTT_RECORDER_PASSWORD:?}"
conf=$1 users=$2
umask 077
rm -f "$users"
printf 'collect:%s\nrecorder:%s\n' "$MQTT_COLLECT_PASSWORD" "$MQTT_RECORDER_PASSWORD" > "$users"
mosquitto_passwd -U "$users"
if [ "$(id -u)" = 0 ]; then chown "${BROKER_USER:-mosquitto}" "$users"; fi
unset MQTT_COLLECT_PASSWORD MQTT_RECORDER_PASSWORD
exec mosquitto -c "$conf"
