"""One thread for dense algebra, set before numpy loads: a second one only makes small matrices wait."""

import os
import signal

signal.signal(signal.SIGINT, signal.default_int_handler)  # where a shell starts the tests beside itself, it is ignored

for variable in ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"):
    os.environ[variable] = "1"
