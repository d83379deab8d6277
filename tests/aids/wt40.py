"""The first five instances of OR-Library's wt40 (single machine, total weighted tardiness, 40 jobs), and their optima.

Source: J. E. Beasley, OR-Library: distributing test problems by electronic mail, J. Opl. Res. Soc. 41(11), 1990, files
wt40 and wtopt40; made by H. A. J. Crauwels, C. N. Potts and L. N. Van Wassenhove, INFORMS J. Computing 10(3), 1998.
Copyright (c) 2010 J. E. Beasley. Permission is granted, free of charge, to use, copy, modify, publish and distribute
this material without restriction, provided that this notice is kept (MIT licence, as LICENSE); it comes as is, without
warranty of any kind.
"""

from __future__ import annotations

from aids.single_machine import Job

#: Published with the files, in the order of the instances.
OPTIMA = (913, 1225, 537, 2094, 990)
JOBS = 40
#: Of each instance 40 processing times, 40 weights and 40 due dates.
NUMBERS = """
26 24 79 46 32 35 73 74 14 67 86 46 78 40 29 94 64 27 90 55
35 52 36 69 85 95 14 78 37 86 44 28 39 12 30 68 70 9 49 50
1 10 9 10 10 4 3 2 10 3 7 3 1 3 10 4 7 7 4 7
5 3 5 4 9 5 2 8 10 4 7 4 9 5 7 7 5 10 1 3
1588 1620 1731 1773 1694 1487 1566 1844 1727 1636 1599 1539 1855 1645 1709 1660 1582 1836 1484 1559
1772 1510 1512 1795 1522 1509 1598 1658 1826 1628 1650 1833 1627 1528 1541 1497 1481 1446 1579 1814
56 25 76 35 28 52 21 32 64 67 48 100 94 87 39 18 78 80 56 72
4 70 36 46 85 31 96 30 66 92 33 18 19 34 18 4 42 94 4 89
1 9 9 9 5 1 4 3 2 8 2 3 7 5 3 5 2 2 2 4
9 9 6 8 9 7 5 2 1 6 4 6 1 2 10 10 6 5 4 3
1687 1738 1663 1480 1504 1826 1722 1660 1594 1445 1704 1660 1715 1701 1679 1516 1658 1611 1502 1685
1614 1647 1689 1615 1524 1800 1654 1752 1456 1452 1801 1713 1761 1513 1759 1484 1821 1448 1666 1611
1 49 35 83 75 64 20 84 31 88 27 88 21 32 12 20 26 64 6 11
54 2 21 94 44 19 45 6 61 41 45 86 98 45 66 77 76 64 31 25
10 4 7 3 6 7 5 10 5 10 2 1 7 7 2 8 3 8 8 8
10 1 1 3 6 7 2 4 6 5 7 4 4 9 5 6 1 9 9 4
1452 1565 1588 1319 1436 1434 1573 1427 1593 1432 1428 1549 1565 1312 1614 1362 1643 1536 1372 1490
1631 1338 1336 1487 1361 1363 1583 1652 1396 1376 1319 1369 1341 1434 1319 1296 1644 1418 1421 1338
71 58 89 62 8 31 74 52 71 85 1 77 35 30 96 12 4 29 64 34
8 98 86 22 6 6 24 61 86 76 17 36 63 83 81 37 80 56 11 57
6 3 9 3 8 8 3 8 10 4 7 8 10 5 5 6 5 10 3 6
9 4 3 2 7 10 6 10 9 3 2 6 6 9 10 9 7 5 5 6
1419 1682 1683 1617 1703 1549 1741 1634 1580 1588 1694 1574 1548 1730 1535 1438 1501 1504 1587 1687
1472 1507 1389 1454 1404 1522 1526 1681 1506 1584 1720 1767 1621 1677 1487 1513 1591 1620 1771 1712
7 70 52 52 86 66 70 60 65 70 27 41 42 88 21 15 40 80 28 7
13 58 4 43 41 89 80 54 34 92 66 72 29 40 53 35 91 58 6 82
5 10 1 2 2 8 8 5 6 4 8 4 1 1 6 5 10 7 2 7
5 8 7 7 6 2 6 6 1 8 8 5 7 6 6 4 8 6 5 7
1471 1794 1514 1473 1702 1583 1640 1683 1491 1519 1702 1527 1701 1675 1421 1718 1639 1742 1749 1653
1441 1722 1691 1612 1424 1615 1809 1533 1648 1702 1450 1614 1675 1435 1441 1485 1746 1732 1727 1612
"""


def instances() -> list[list[Job]]:
    """The five, each a list of (processing time, weight, due date)."""
    numbers = [int(word) for word in NUMBERS.split()]
    found = []
    for first in range(0, len(OPTIMA) * 3 * JOBS, 3 * JOBS):
        times, weights, dues = (numbers[first + k * JOBS : first + (k + 1) * JOBS] for k in range(3))
        found.append([(p, float(w), d) for p, w, d in zip(times, weights, dues, strict=True)])
    return found
