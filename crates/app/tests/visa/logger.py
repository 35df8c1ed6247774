"""A logger of the air that pymodbus plays behind a socket: input registers 0 and 1 hold tenths of a
degree and of a percent.

logger.py        prints its port. Ends with its stdin.
"""

import asyncio
import socket
import sys
import threading

from pymodbus.datastore import ModbusSequentialDataBlock, ModbusServerContext
from pymodbus.server import ModbusTcpServer

try:
    from pymodbus.datastore import ModbusDeviceContext as Device
except ImportError:
    from pymodbus.datastore import ModbusSlaveContext as Device

with socket.create_server(("127.0.0.1", 0)) as probe:
    PORT = probe.getsockname()[1]


async def serve():
    # The first address of a block is that of register 0.
    block = ModbusSequentialDataBlock(1, [0x10000 - 57, 475])
    context = ModbusServerContext(Device(ir=block), single=True)
    server = ModbusTcpServer(context, address=("127.0.0.1", PORT))
    print(PORT, flush=True)
    await server.serve_forever()


threading.Thread(target=lambda: asyncio.run(serve()), daemon=True).start()
sys.stdin.read()
