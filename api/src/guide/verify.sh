#!/bin/sh
# verify.sh SECRET ID TIMESTAMP SIGNATURES < BODY   ends with 0 if the message is to be believed
# For trying things out: a process list shows the key to everybody on the machine, and = takes its time to compare.
case $3 in '' | *[!0-9]* | ???????????????*) exit 1 ;; esac # nobody has proven it yet: a shell would run what stands in it
set -f
age=$(($(date +%s) - $3))
[ "$age" -le 300 ] && [ "$age" -ge -300 ] || exit 1
key=$(printf %s "${1#whsec_}" | base64 -d | od -An -v -tx1 | tr -d ' \n')
wanted=$({ printf '%s.%s.' "$2" "$3"; cat; } | openssl dgst -sha256 -mac HMAC -macopt "hexkey:$key" -binary | base64)
for given in $4; do [ "$given" = "v1,$wanted" ] && exit 0; done
exit 1
