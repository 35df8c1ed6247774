"""A bench of two meters that pyvisa-sim plays, each behind a socket of its own.

peer.py METERS.yaml        prints one line: the two ports. Ends with its stdin.

What a client asks goes to the simulated instrument as it came, and its answer back. Before each
question for a value the next one of the course is set by the meter's own command, which no client
of ours ever sends. At 20 kV the divider meter shows an overload for three questions.
"""

import pathlib
import socket
import sys
import threading

import pyvisa

# Volts at the divider's low arm, a ten-thousandth of the object; microamperes in the return.
RISE = [0.0, 0.0, 0.5, 1.0, 1.5, 2.0]
OVER = [9.9e37] * 3
HOLD = [2.0 + 0.0001 * at for at in range(4000)]
VOLTS = RISE + OVER + HOLD
MICROAMPERES = [5.0 + 0.01 * at for at in range(4000)]


def serve(listener, resource, question, command, values):
    asked = 0
    while True:
        client, _ = listener.accept()
        lines = client.makefile("r", newline="\n")
        for line in lines:
            line = line.strip()
            if line == question:
                resource.write(command.format(values[min(asked, len(values) - 1)]))
                asked += 1
            if line.endswith("?") or "? " in line:
                client.sendall((resource.query(line).strip() + "\n").encode())


def main():
    visa = pyvisa.ResourceManager(f"{pathlib.Path(sys.argv[1]).resolve()}@sim")
    meters = [
        ("TCPIP::localhost::inst0::INSTR", "\n", "MEAS:VOLT:DC?", "BENCH:VOLT {:e}", VOLTS),
        ("ASRL1::INSTR", "\r\n", "READ?", "BENCH:CURR {}", MICROAMPERES),
    ]
    ports = []
    for name, end, question, command, values in meters:
        resource = visa.open_resource(name, read_termination=end, write_termination=end)
        listener = socket.create_server(("127.0.0.1", 0))
        ports.append(str(listener.getsockname()[1]))
        of = (listener, resource, question, command, values)
        threading.Thread(target=serve, args=of, daemon=True).start()
    print(*ports, flush=True)
    sys.stdin.read()


main()
