"""The cells of the engine's part meter, and what the lab reads of them."""
import numpy as np
from scipy.signal import lfilter, butter, sosfilt

SR = 48000
# ITU-R BS.1770-5, table 1 and 2, 48 kHz.
SHELF = ([1.53512485958697, -2.69169618940638, 1.19839281085285], [1, -1.69065929318241, .73248077421585])
HIGH = ([1, -2, 1], [1, -1.99004745483398, .99007225036621])


def cells(x):
    n = len(x) // 48 * 48
    x = x[:n]
    w = lfilter(*HIGH, lfilter(*SHELF, x))
    ms = lambda v: v.reshape(-1, 48)
    lo = sosfilt(butter(2, 200, fs=SR, output="sos"), x)
    rest = sosfilt(butter(2, 200, "high", fs=SR, output="sos"), x)
    mid = sosfilt(butter(2, 4000, fs=SR, output="sos"), rest)
    hi = sosfilt(butter(2, 4000, "high", fs=SR, output="sos"), rest)
    p = lambda v: (ms(v) ** 2).mean(1)
    return dict(w=p(w), lo=p(lo), mid=p(mid), hi=p(hi), peak=np.abs(ms(x)).max(1), mean=np.abs(ms(x)).mean(1), four=(ms(x) ** 4).mean(1), sq=p(x))
